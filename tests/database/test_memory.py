"""Kept answers: made once however many ask at once, and let go of when there are too many."""

from __future__ import annotations

import threading
import time

import pytest

from traywise.workbench.asking.memory import Memory


def test_many_who_ask_at_once_wait_for_one_making() -> None:
    memory, made, found = Memory[int](4), [], []

    def make() -> int:
        made.append(1)
        time.sleep(0.05)
        return 7

    threads = [
        threading.Thread(target=lambda: found.append(memory.get("a", make))) for _ in range(8)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert (made, found) == ([1], [7] * 8)


def test_a_making_that_fails_is_tried_again() -> None:
    memory = Memory[int](4)

    def fail() -> int:
        raise ValueError

    for _ in range(2):
        with pytest.raises(ValueError):  # noqa: PT011 - our own, just above
            memory.get("a", fail)
    assert memory.get("a", lambda: 1) == 1


def test_the_longest_unused_goes_first() -> None:
    memory = Memory[int](2)
    memory.get("a", lambda: 1)
    memory.get("b", lambda: 2)
    memory.get("a", lambda: 0)
    memory.get("c", lambda: 3)
    assert memory.get("a", lambda: 9) == 1
    assert memory.get("b", lambda: 9) == 9
