"""Enter a small invented campaign: a steel bar with two opposite gauges, pulled in a machine.

Run it with the Python of the environment gaugewright is installed in:

    python enter_a_campaign.py my-campaign
"""

import sys
from datetime import UTC, datetime
from pathlib import Path

from gaugewright.records import electrical, gauges, proof, sensors, specimen
from gaugewright.records.identity import Uid, working_context
from gaugewright.records.stated import Basis, Meaning, Stated
from gaugewright.services.campaign import laboratory
from gaugewright.settings import load
from gaugewright.store.campaign import CampaignStore

PLUGGED_IN = datetime(2026, 5, 4, 6, 0, tzinfo=UTC)  # before the first reading


def k2(value: float, plus_minus: float, source: str) -> Stated:
    """A value with an expanded uncertainty, k = 2."""
    return Stated(value, plus_minus, Meaning.TWO_SIGMA, Basis.STATED, source)


def limit(value: float, plus_minus: float, source: str) -> Stated:
    """A value with a limit of error."""
    return Stated(value, plus_minus, Meaning.LIMIT, Basis.MEASURED, source)


def enter(store: CampaignStore) -> None:
    """Write every record down, each after those it names; all of them or none."""

    def add(record: object) -> Uid:
        return store.add(record).uid

    # What is tested, of which steel. Inside, everything is in SI units.
    steel = add(
        specimen.Material(
            "B500, heat 12",
            specimen.SteelLaw.BILINEAR,
            elastic_modulus=k2(200e9, 2.4e9, "coupons"),
            thermal_expansion=limit(11.6e-6, 0.4e-6, "usual for reinforcing steel"),
            poisson_ratio=limit(0.29, 0.01, "usual for reinforcing steel"),
            yield_strength=k2(535e6, 7e6, "coupons"),
            hardening_modulus=k2(2.0e9, 0.3e9, "coupons"),
        )
    )
    piece = add(specimen.Specimen("pulled bar", specimen.SpecimenKind.BARE_METAL))
    bar = add(
        specimen.Bar(
            "S1",
            piece,
            steel,
            "d16",
            diameter=limit(0.0160, 0.0001, "calliper"),
            area=k2(200.4e-6, 0.8e-6, "mass and length"),
        )
    )
    # What was bonded to it: one pack, two opposite gauges on flats 5 mm wide.
    pack = add(
        gauges.GaugePack(
            "350 ohm",
            "invented lot",
            gauge_resistance=limit(350.0, 1.0, "card"),
            gauge_factor=k2(2.08, 0.02, "card"),
            grid_length=3e-3,
            grid_width=1.6e-3,
            transverse_sensitivity=limit(0.004, 0.002, "card"),
            thermal_output=gauges.ThermalOutput(
                coefficients=(-18e-6, 1.3e-6, -0.025e-6),  # strain per °C, °C², ...
                gauge_factor=2.0,
                thermal_expansion=11e-6,
                low_degc=5.0,
                high_degc=60.0,
                slope_uncertainty=k2(0.0, 0.6e-6, "card"),
            ),
            large_strain_law=gauges.LargeStrainLaw.CONSTANT_GAUGE_FACTOR,
        )
    )
    upper = lower = Uid("")
    for label, angle in (("S1-T", 0.0), ("S1-U", 3.14159)):
        station = add(specimen.Station(label, bar, "upper end of the bar", 0.40, angle))
        add(specimen.Flat(station, limit(0.0050, 0.0003, "calliper"), opposite=True))
        gauge = add(gauges.Gauge(label, pack, station, opposite=upper or None))
        upper, lower = upper or gauge, gauge
    # How it reaches a reading: one recorder, a lead and a channel for each gauge.
    recorder = add(
        electrical.Instrument(
            "recorder",
            "invented",
            gain=k2(1.0, 0.001, "certificate"),
            dwell=0.0,
            filter_delay=limit(0.0, 0.001, "certificate"),
            channels_isolated=True,
        )
    )
    for number, (label, gauge) in enumerate((("S1-T", upper), ("S1-U", lower))):
        lead = add(electrical.Lead(f"cable {label}", 3, 10.0, limit(1.2, 0.03, "wire size"), 20.0))
        circuit = add(
            electrical.BridgeCircuit(
                label,
                electrical.Topology.QUARTER_THREE_WIRE,
                (electrical.Arm(1, 1, gauge),),
                lead,
            )
        )
        channel = add(electrical.Channel(label, recorder, number, label))
        setting = electrical.ChannelSetting(channel, electrical.ReadingKind.RATIO, "mV/V", 2.5)
        add(electrical.Connection(circuit, channel, add(setting), PLUGGED_IN))
    # Load cell and thermometer on the same recorder; columns are named as in its files.
    others = (
        ("Load", "kN", sensors.Sensor("load cell", "force", 1, k2(1.0, 0.005, "certificate"),
                                      k2(0.0, 100.0, "certificate"))),
        ("Temp", "°C", sensors.TemperaturePoint("T", "on the bar", (upper, lower),
                                                limit(0.0, 0.5, "thermometer"))),
    )  # fmt: skip
    for number, (column, unit, subject) in enumerate(others, start=2):
        uid = add(subject)
        channel = add(electrical.Channel(column, recorder, number, column))
        setting = electrical.ChannelSetting(channel, electrical.ReadingKind.OTHER, unit)
        add(electrical.Connection(uid, channel, add(setting), PLUGGED_IN))
    add(proof.Person("me", "Invented Person"))
    add(specimen.Question("yield", "At which load does the bar yield?", "yield load"))


def main() -> None:
    """Make the campaign in the folder named on the command line."""
    folder = Path(sys.argv[1])
    record = specimen.Campaign("S1", "Pulled bar (invented)", "Europe/Rome", invented=True)
    defaults = laboratory.campaign_defaults(load())
    with CampaignStore.create(folder, record, working_context(), defaults=defaults) as store:
        with store.several():
            enter(store)
    print(f"{folder}: entered; next: gaugewright import {folder} FILE")


if __name__ == "__main__":
    main()
