"""What all pages share: the frame, the tokens of the look, form fields, refusals."""
