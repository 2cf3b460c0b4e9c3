"""HL7 FHIR R4 in and out.

In: a Bundle, Parameters or resources, JSON or XML, as bytes or text from outside.
Out: ``ReadResult`` as from every other reader; an answer as ImmunizationEvaluation and
ImmunizationRecommendation. Never loads a FHIR library, never judges a dose.
"""

from traywise.exchange.fhir.read import read_fhir
from traywise.exchange.fhir.write_answer import write_bundle

__all__ = ["read_fhir", "write_bundle"]
