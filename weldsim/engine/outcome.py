"""Codes of the compiled loop, each with a sentence and a hint."""

from weldsim.engine.layout import NOT_FINITE, TOO_MANY, UNSETTLED

SENTENCES = {
    UNSETTLED: (
        "no combination of conducting and blocked parts is consistent",
        "two ideal parts fight each other: give one of the parts named a small slope, resistance or leakage",
    ),
    TOO_MANY: (
        "the parts switch more often than any real supply does",
        "look for an idealised part that flips back and forth, and give it a resistance or an inductance; diodes "
        "behind a very small inductance need a smaller leakage_resistance, such as 10 kohm; what breaks back by next "
        "to nothing, and gives its pulse again and again, needs a larger breakback or a longer pulse",
    ),
    NOT_FINITE: (
        "the solution grew beyond all numbers",
        "a part with a negative resistance has nothing that limits it; check the load's falling part",
    ),
}
