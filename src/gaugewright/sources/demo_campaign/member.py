"""What the demo's papers say of the beam itself: concrete, outline, bars, supports and loads.

Invented, and written as a laboratory would have measured it: near to what the simulation is made
of, not the same.
"""

from collections.abc import Callable, Mapping

from gaugewright.records.identity import Uid
from gaugewright.records.member import (
    BarPlace,
    Concrete,
    LoadPoint,
    Member,
    Outline,
    OutlineShape,
)
from gaugewright.records.specimen import Bar
from gaugewright.records.stated import Basis, Meaning, Stated
from gaugewright.sources.demo_campaign import plan

__all__ = ["lay_down_member"]

# Bars of the section: depth of the axis, and place to the right of the middle looking east.
_LOWER, _UPPER = 0.401, 0.045
_ACROSS = {"L1": -0.105, "L2": -0.035, "L3": 0.035, "L4": 0.105, "C1": -0.107, "C2": 0.107}


def lay_down_member(
    add: Callable[[object], Uid], bars: Mapping[str, Uid], specimen: Uid, steel: Uid
) -> None:
    """The upper bar that carries no gauge, the concrete, and the member they make."""
    plain = Bar(
        "C2", specimen, steel, "d12", plan.UPPER_BAR_DIAMETER, plan.UPPER_BAR_AREA, length=4.14
    )
    known = {**bars, "C2": add(plain)}
    concrete = add(_concrete())
    add(
        Member(
            label="H3",
            specimen=specimen,
            concrete=concrete,
            outline=Outline(OutlineShape.RECTANGLE, _taped(0.451, 0.002), _taped(0.301, 0.002)),
            bars=tuple(_place(label, known[label]) for label in _ACROSS),
            datum="west support, growing eastward",
            supports=(_taped(0.0, 0.002), _taped(plan.SPAN, 0.003)),
            load_points=tuple(
                LoadPoint(_taped(distance, 0.003), 0.5) for distance in (1.2, plan.SPAN - 1.2)
            ),
            load_per_length=Stated(
                3.3e3, 0.1e3, Meaning.LIMIT, Basis.STATED, "outline and 24.5 kN/m^3 (invented)"
            ),
        )
    )


def _taped(value: float, plus_minus: float) -> Stated:
    return Stated(value, plus_minus, Meaning.LIMIT, Basis.MEASURED, "steel tape")


def _concrete() -> Concrete:
    cylinders = "three cylinders on the day of the test (invented)"
    split = "three split cylinders on the day of the test (invented)"
    prism = "prism beside the beam, sealed alike (invented)"
    return Concrete(
        "beam H3",
        Stated(37.3e6, 2.2e6, Meaning.TWO_SIGMA, Basis.MEASURED, cylinders, 2),
        Stated(30.4e9, 1.8e9, Meaning.TWO_SIGMA, Basis.MEASURED, cylinders, 2),
        Stated(2.8e6, 0.4e6, Meaning.TWO_SIGMA, Basis.MEASURED, split, 2),
        Stated(-104e-6, 35e-6, Meaning.LIMIT, Basis.MEASURED, prism),
        "C30/37",
        "35 days",
    )


def _place(label: str, bar: Uid) -> BarPlace:
    depth = _LOWER if label.startswith("L") else _UPPER
    return BarPlace(
        bar, _taped(depth, 0.003), _taped(_ACROSS[label], 0.003), _taped(plan.BAR_END, 0.002)
    )
