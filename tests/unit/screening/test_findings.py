"""Case by case: the rows of the published screening tables, source beside each.

R read (or a reproduction of it); m from memory, to be confirmed.
"""

# ruff: noqa: E501  (a case and its source stand on one line)

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from traywise.record.child import Child, Condition, CvxCode, DoseGiven
from traywise.rulebook.conditions import conditions
from traywise.rulebook.vaccines import vaccines
from traywise.screening import Finding, Screening, screen

ON = date(2026, 3, 2)
INFANT, TODDLER, FOUR, SIX, TEEN = (
    date(2025, 12, 20),
    date(2025, 2, 20),
    date(2021, 9, 1),
    date(2019, 9, 1),
    date(2012, 3, 1),
)


def child(born: date, *keys: str | Condition, **more: Any) -> Child:
    found = tuple(k if isinstance(k, Condition) else Condition(key=k) for k in keys)
    return Child(id="invented", born=born, conditions=found, **more)


def ended(key: str, on: str) -> Condition:
    return Condition(key=key, until=date.fromisoformat(on))


def look(the_child: Child, *groups: str) -> Screening:
    return screen(the_child, ON, groups, tuple(vaccines().values()))


def one(screening: Screening, key: str) -> Finding:
    return next(finding for finding in screening.findings if finding.key == key)


# born, condition, groups asked, rule, kind, action, groups blocked  # source
WHOLE_GROUPS = [
    (TODDLER, "anaphylaxis-mmr", "MMR", "reaction-to-earlier-dose", "contraindication", "never", "MMR"),  # GBP4, G1 R
    (TODDLER, "anaphylaxis-hepb", "HepB MMR", "reaction-to-earlier-dose", "contraindication", "never", "HepB"),  # G1 R
    (SIX, "acute-illness", "DTaP MMR", "acute-illness", "precaution", "defer", "DTaP MMR"),  # APX-C, G3 R
    (INFANT, "scid", "RV", "rv-scid", "contraindication", "never", "RV"),  # APX-C, C3 R
    (TODDLER, "scid", "MMR VAR", "live-scid", "contraindication", "never", "MMR VAR"),  # GBP4, C3 R
    (INFANT, "intussusception", "RV", "rv-intussusception", "contraindication", "never", "RV"),  # APX-C, C4 R
    (INFANT, "chronic-gut-disease", "RV", "rv-gut-disease", "precaution", "ask", ""),  # APX-C, C5 R
    (INFANT, "vomiting-or-diarrhoea", "RV IPV", "rv-vomiting", "precaution", "defer", "RV"),  # C6 R
    (INFANT, "mother-biologics", "RV", "rv-altered-immunity", "precaution", "ask", ""),  # IMZ, C36 R
    (INFANT, "in-hospital-newborn", "RV", "rv-newborn-unit", "precaution", "defer", "RV"),  # section 9, m
    (SIX, "gbs-after-tetanus", "DTaP", "tetanus-gbs", "precaution", "ask", ""),  # APX-C, C10 R
    (SIX, "gbs-after-flu", "Flu", "flu-gbs", "precaution", "ask", ""),  # FLU, C10 R
    (SIX, "arthus-after-toxoid", "DTaP", "toxoid-arthus", "precaution", "defer", "DTaP"),  # APX-C, C11 R
    (TEEN, "pregnant", "MMR VAR", "live-pregnancy", "contraindication", "defer", "MMR VAR"),  # GBP4, C12 R
    (TEEN, "pregnancy-planned", "MMR", "live-pregnancy-planned", "contraindication", "defer", "MMR"),  # IMZ, C12 R
    (TEEN, "pregnant", "HPV", "hpv-pregnancy", "precaution", "defer", "HPV"),  # APX-A, C12b R
    (TEEN, "pregnant", "IPV", "ipv-pregnancy", "precaution", "ask", ""),  # T3-21, C12c R
    (TEEN, "pregnant", "MenB", "menb-pregnancy", "precaution", "ask", ""),  # C12c, m
    (TODDLER, "immunocompromised", "MMR VAR", "live-immunodeficiency", "contraindication", "defer", "MMR VAR"),  # C13 R
    (TODDLER, "hiv-severe", "MMR", "live-immunodeficiency", "contraindication", "defer", "MMR"),  # T3-21 R
    (TODDLER, "hiv", "MMR VAR", "live-hiv-cd4-unknown", "precaution", "defer", "MMR VAR"),  # T3-21 R
    (TODDLER, "congenital-immunodeficiency", "MMR", "live-congenital-defect", "contraindication", "defer", "MMR"),  # GBP8 R
    (TODDLER, "family-immunodeficiency", "MMR VAR", "live-family-defect", "contraindication", "defer", "MMR VAR"),  # C14 R
    (TODDLER, "thrombocytopenia-history", "MMR", "mmr-thrombocytopenia", "precaution", "ask", ""),  # MMR13, C16 R
    (TODDLER, "tb-test-planned", "MMR", "live-tb-test-planned", "precaution", "ask", ""),  # IMZ, C17 R
    (TODDLER, "tb-active-untreated", "VAR", "var-tb-untreated", "precaution", "defer", "VAR"),  # CDC VAR page R
    (TODDLER, "herpes-antiviral", "VAR MMR", "var-herpes-antiviral", "precaution", "defer", "VAR"),  # IMZ, C18 R
    (TODDLER, "salicylate", "VAR", "var-salicylate", "precaution", "ask", ""),  # label, C19 R
    (TODDLER, "solid-organ-transplant", "MMR VAR", "live-transplant-organ", "contraindication", "never", "MMR VAR"),  # m
    (TODDLER, "haematopoietic-transplant", "MMR", "live-transplant-stem-cell", "contraindication", "defer", "MMR"),  # section 4, m
    (TODDLER, "low-level-immunosuppression", "MMR", "live-low-level-immunosuppression", "precaution", "ask", ""),  # IDSA13, m
    (SIX, "myocarditis-after-covid", "COVID", "covid-myocarditis", "precaution", "ask", ""),  # APX-C, C32 R
    (SIX, "mis-c", "COVID", "covid-mis", "precaution", "ask", ""),  # APX-C, C32 R
    (SIX, "covid-immediate-reaction", "COVID", "covid-immediate-reaction", "precaution", "ask", ""),  # APX-C R
    (TODDLER, "bleeding-disorder", "HepA", "bleeding-care", "care", "give", ""),  # CDC13, C33 R
    (TEEN, "faint-prone", "HPV", "fainting-care", "care", "give", ""),  # Q-P4060 asked, C34; m
]  # fmt: skip


@pytest.mark.parametrize(
    ("born", "key", "groups", "rule", "kind", "action", "blocked"), WHOLE_GROUPS
)
def test_condition_gives_kind_and_action(
    born: date, key: str, groups: str, rule: str, kind: str, action: str, blocked: str
) -> None:
    screening = look(child(born, key), *groups.split())
    finding = one(screening, rule)
    assert (finding.kind, finding.action) == (kind, action)
    assert {g for g in groups.split() if screening.blocks_group(g)} == set(blocked.split())


# born, condition, group, rule, kind, a product touched, a product of the group left
SOME_PRODUCTS = [
    (INFANT, "spina-bifida", "RV", "rv1-spina-bifida", "precaution", "119", "116"),  # APX-C, C7 R
    (INFANT, "gut-malformation", "RV", "rv1-gut-malformation", "contraindication", "119", "116"),  # label R
    (SIX, "encephalopathy-after-pertussis", "DTaP", "pertussis-encephalopathy", "contraindication", "20", "28"),  # C8 R
    (TEEN, "encephalopathy-after-pertussis", "DTaP", "pertussis-encephalopathy", "contraindication", "115", "113"),  # C8 R
    (SIX, "unstable-neurological", "DTaP", "pertussis-unstable-neurological", "precaution", "20", "28"),  # TDP18, C9 R
    (TODDLER, "hiv", "MMR", "mmrv-altered-immunity", "contraindication", "94", None),  # MMRV10 R
    (SIX, "seizure-history", "MMR", "mmrv-seizure", "precaution", "94", "03"),  # MMRV10, C28 R
    (SIX, "family-seizure-history", "VAR", "mmrv-seizure", "precaution", "94", "21"),  # MMRV10, C28 R
    (TEEN, "pregnant", "Flu", "laiv-pregnancy", "contraindication", "111", "140"),  # FLU, C12 R
    (SIX, "salicylate", "Flu", "laiv-salicylate", "contraindication", "111", "140"),  # FLU, C20 R
    (SIX, "immunocompromised", "Flu", "laiv-immune", "contraindication", "111", "140"),  # FLU, C23 R
    (SIX, "asplenia", "Flu", "laiv-immune", "contraindication", "111", "140"),  # FLU 2023-24, C23 R
    (SIX, "sickle-cell", "Flu", "laiv-immune", "contraindication", "111", "140"),  # C23 R
    (SIX, "csf-leak", "Flu", "laiv-csf", "contraindication", "111", "140"),  # FLU, C24 R
    (SIX, "cochlear-implant", "Flu", "laiv-csf", "contraindication", "111", "140"),  # FLU, C24 R
    (SIX, "protected-contact", "Flu", "laiv-contact", "contraindication", "111", "140"),  # FLU, C25 R
    (SIX, "nose-blocked", "Flu", "laiv-nose-blocked", "precaution", "111", "140"),  # AAPFLU, C27 R
    (SIX, "diabetes", "Flu", "laiv-chronic-disease", "precaution", "111", "140"),  # FLU R
    (SIX, "chronic-heart-disease", "Flu", "laiv-chronic-disease", "precaution", "111", "140"),  # FLU R
    (SIX, "anaphylaxis-flu-egg-based", "Flu", "flu-reaction", "contraindication", "140", "153"),  # IMZ Aug 2024 R
    (SIX, "anaphylaxis-flu-cell", "Flu", "flu-cell-reaction", "contraindication", "153", "155"),  # IMZ Aug 2024 R
    (TODDLER, "anaphylaxis-yeast", "HepB", "component-anaphylaxis", "contraindication", "08", None),  # APX-A R
    (SIX, "anaphylaxis-gelatin", "VAR", "component-anaphylaxis", "contraindication", "21", None),  # CHOP R
    (SIX, "anaphylaxis-neomycin", "MMR", "component-anaphylaxis", "contraindication", "03", None),  # APX-A R
]  # fmt: skip


@pytest.mark.parametrize(("born", "key", "group", "rule", "kind", "touched", "left"), SOME_PRODUCTS)
def test_condition_touches_some_products(
    born: date, key: str, group: str, rule: str, kind: str, touched: str, left: str | None
) -> None:
    screening = look(child(born, key), group)
    finding = one(screening, rule)
    blocked = {c for k in screening.blocked_vaccines() for c in vaccines()[k].cvx}
    assert finding.kind == kind
    assert touched in blocked
    if left is not None:
        assert left not in blocked
        assert not screening.blocks_group(group)


# FLU, C21 and C22 R: contraindication at 2 to 4 years, precaution from 5
@pytest.mark.parametrize(
    ("born", "key", "rule"),
    [
        (date(2024, 3, 2), "asthma", "laiv-wheeze"),  # 2 years today
        (date(2024, 3, 2), "wheeze-12-months", "laiv-wheeze"),
        (date(2021, 3, 3), "asthma", "laiv-wheeze"),  # 5 years tomorrow
        (date(2021, 3, 2), "asthma", "laiv-asthma"),  # 5 years today
        (date(2021, 3, 2), "wheeze-12-months", None),
    ],
)
def test_asthma_by_age(born: date, key: str, rule: str | None) -> None:
    found = [f.key for f in look(child(born, key), "Flu").findings]
    assert found == ([] if rule is None else [rule])


def test_latex_touches_only_presentations_with_rubber() -> None:  # APX-A 2022, IMZ R
    screening = look(child(SIX, "anaphylaxis-latex"), "HepB")
    finding = one(screening, "latex-anaphylaxis")
    for key, names in finding.presentations.items():
        assert set(names) == set(vaccines()[key].latex_in)
    assert set(screening.blocked_presentations()) == set(finding.vaccines)
    for key in screening.blocked_vaccines():
        assert set(vaccines()[key].presentations) <= set(vaccines()[key].latex_in)


def test_combination_falls_with_one_of_its_parts() -> None:  # CDC13, G4 R
    screening = look(child(INFANT, "anaphylaxis-hepb"), "HepB", "DTaP", "IPV")
    blocked = screening.blocked_vaccines()
    assert "DTaP-HepB-IPV" in blocked
    assert not screening.blocks_group("DTaP")


@pytest.mark.parametrize(
    ("born", "doses", "answers", "asked"),
    [
        (date(2025, 3, 2), (), {}, True),  # 12 months
        (date(2022, 3, 3), (), {}, True),  # one day short of 48 months
        (date(2022, 3, 2), (), {}, False),  # 48 months: MMRV10, C29 R
        (date(2023, 3, 2), ("03", "21"), {}, False),  # second dose
        (date(2025, 3, 2), (), {"prefers-mmrv": "yes"}, False),  # after counselling
    ],
)
def test_mmrv_for_the_first_dose(
    born: date, doses: tuple[str, ...], answers: dict[str, Any], asked: bool
) -> None:
    given = tuple(DoseGiven(on=date(2024, 6, 1), cvx=CvxCode(cvx)) for cvx in doses)
    screening = look(child(born, doses=given, answers=answers), "MMR", "VAR")
    assert ("mmrv-first-dose" in {f.key for f in screening.findings}) is asked


@pytest.mark.parametrize(
    ("mother", "grams", "rule", "until"),
    [
        ("mother-hbsag-negative", 1999, "hepb-small-newborn", date(2026, 4, 1)),  # IMZ 2023 R
        ("mother-hbsag-negative", 2000, None, None),
        ("mother-hbsag-positive", 1999, "hepb-mother-positive", None),
        ("mother-hbsag-positive", 2000, "hepb-mother-positive", None),
        ("mother-hbsag-unknown", 1999, "hepb-mother-unknown-small", None),
        ("mother-hbsag-unknown", 2000, "hepb-mother-unknown", None),
    ],
)
def test_newborn_hepb_by_mother_and_birth_weight(
    mother: str, grams: int, rule: str | None, until: date | None
) -> None:
    screening = look(child(date(2026, 3, 1), mother, birth_weight_g=grams), "HepB")
    assert [f.key for f in screening.findings] == ([] if rule is None else [rule])
    assert screening.deferred_until("HepB") == until


# condition, groups asked  # source
NOT_A_REASON = [
    ("mild-illness", "DTaP MMR"),  # CDC13 R
    ("local-reaction-history", "DTaP"),  # CDC13 R
    ("fever-after-dose", "DTaP"),  # CDC13 R
    ("antibiotic", "MMR"),  # CDC13 R
    ("convalescent", "MMR"),  # CDC13 R
    ("preterm", "PCV"),  # RB18 R
    ("recent-exposure", "MMR"),  # RB18 R
    ("other-allergy", "MMR"),  # RB18 R
    ("family-allergy", "MMR"),  # NAC00 R
    ("allergen-injections", "MMR"),  # NAC00 R
    ("pregnant-contact", "MMR VAR RV"),  # RB18 R
    ("immunodeficient-contact", "MMR VAR RV"),  # RB18 R
    ("breastfeeding", "MMR"),  # RB18 R
    ("stable-neurological", "DTaP"),  # TDP18 R
    ("family-vaccine-reaction", "DTaP"),  # NAC00 R in part
    ("former-dtap-reaction", "DTaP"),  # TDP18 R
    ("brachial-neuritis", "DTaP"),  # m
    ("hives-history", "MMR"),  # m
    ("autoimmune-disease", "MMR"),  # m
    ("egg-allergy", "Flu MMR"),  # IMZ, NAC00 R
    ("anaphylaxis-egg", "Flu"),  # IMZ Aug 2024 R
    ("neomycin-dermatitis", "MMR VAR"),  # APX-A R
    ("latex-contact-allergy", "HepB"),  # APX-A R
    ("thimerosal-contact-allergy", "Flu"),  # m
    ("tb-test-positive", "MMR VAR"),  # NAC00 R
    ("tb-test-placed", "MMR"),  # IMZ R
    ("b-cell-deficiency", "VAR"),  # review R
    ("complement-deficiency", "VAR"),  # review R
    ("iga-deficiency", "MMR VAR"),  # IMZ R
    ("asplenia", "MMR VAR RV"),  # FLU R
    ("steroid-low-dose", "MMR VAR"),  # GBP8 R
    ("immunocompromised", "HepB DTaP PCV"),  # section 4 R
    ("thrombocytopenia-history", "VAR"),  # IMZ R
    ("measles-history", "MMR"),  # m
    ("vaccine-history-unknown", "MMR"),  # m
    ("hib-history", "Hib"),  # NAC00 R
    ("pregnant", "DTaP"),  # ACIP R
]


@pytest.mark.parametrize(("key", "groups"), NOT_A_REASON)
def test_misread_reason_is_named_and_never_blocks(key: str, groups: str) -> None:
    born = TEEN if key == "pregnant" else SIX
    screening = look(child(born, key), *groups.split())
    named = {g for f in screening.findings if f.kind == "not a reason" for g in f.groups}
    assert named == set(groups.split())
    assert not any(screening.blocks_group(group) for group in groups.split())


def test_hiv_without_severe_immunosuppression() -> None:  # T3-21, IMZ R
    screening = look(child(TODDLER, "hiv-not-severe"), "MMR", "VAR", "Flu")
    assert not any(screening.blocks_group(g) for g in ("MMR", "VAR", "Flu"))
    assert {"MMRV", "LAIV3"} <= screening.blocked_vaccines()
    assert one(screening, "no-reason-hiv-mmr-var").kind == "not a reason"


def test_shown_competence_lifts_the_family_reason() -> None:  # APX-A, C14 R
    both = child(TODDLER, "family-immunodeficiency", "immune-competence-shown")
    assert not look(both, "MMR").blocks_group("MMR")


def test_dengue_needs_proof() -> None:  # m
    assert look(child(TEEN), "Dengue").blocks_group("Dengue")
    assert not look(child(TEEN, "dengue-confirmed"), "Dengue").blocks_group("Dengue")


def test_every_finding_has_text_reason_and_source() -> None:
    groups = ("HepB", "RV", "DTaP", "Hib", "PCV", "IPV", "Flu", "MMR", "VAR", "Dengue", "COVID")
    for born in (INFANT, FOUR, TEEN):
        for finding in look(child(born, *conditions()), *groups).findings:
            assert finding.text
            assert finding.why
            assert finding.source
