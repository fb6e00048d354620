"""Half and full bridges drawn at their channel: every wire by its name, nothing outside."""

from gaugewright.present.bridge_drawing import Wires, full_bridge, half_bridge, opposite_grids
from gaugewright.present.circuit_drawing import Arm
from tests.present.test_circuit_drawing import inside

ARMS = tuple(Arm(f"B1-{face}", is_grid=True) for face in "TUVW")


def wires(names: tuple[str, ...]) -> Wires:
    return Wires({name: f"4.4 Ω, colour {name}" for name in names}, "2.5 V")


def test_each_bridge_has_the_wires_of_its_lead_and_no_others() -> None:
    one, two, three, four = ARMS
    six = ("P", "N", "SP", "SN", "KP", "KN")
    drawn = {
        ("A", "B", "C"): half_bridge((one, two), "", wires(("A", "B", "C")), "half"),
        ("A", "B", "C", "D"): opposite_grids(
            (one, three), "350 Ω", wires(("A", "B", "C", "D")), "opposite"
        ),
        six[:4]: full_bridge((one, two, three, four), wires(six[:4]), "four", is_sensed=False),
        six: full_bridge((one, two, three, four), wires(six), "six", is_sensed=True),
    }
    for names, svg in drawn.items():
        for name in ("A", "B", "C", "D", *six):
            assert f">{name}</text>" in svg or name not in names
            assert (f"colour {name}<" in svg) == (name in names)
        assert ">2.5 V</text>" in svg
        assert ">B1-T</text>" in svg
        assert inside(svg)
