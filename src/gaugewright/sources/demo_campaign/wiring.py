"""Lays down how each gauge of the demo reaches a reading, and what happened in the test."""

from datetime import datetime, timedelta

from gaugewright.records.electrical import (
    Arm,
    BridgeCircuit,
    Channel,
    ChannelSetting,
    Connection,
    Instrument,
    Lead,
    ReadingKind,
    Topology,
)
from gaugewright.records.identity import Uid
from gaugewright.records.readings import Event, LoadStep
from gaugewright.records.sensors import Sensor, TemperaturePoint
from gaugewright.records.stated import Basis, Meaning, Stated
from gaugewright.sources.demo_campaign import faults, plan
from gaugewright.sources.demo_campaign.ledger import Add, DemoUids
from gaugewright.sources.demo_campaign.plan import GAUGES, GaugePlan, circuit_label
from gaugewright.sources.demo_campaign.protocol import DAYS, Protocol, at_second
from gaugewright.sources.demo_campaign.recorders import RECORDERS, SET_GAUGE_FACTOR, Recorder

__all__ = ["lay_down_connections", "lay_down_events", "lay_down_wiring"]

_POINTS = {
    "T1": "in the concrete beside bar L2 at midspan",
    "T2": "in the concrete beside bar L3, 0.45 m from the west support",
    "TH": "in the hall, beside the offcut",
    "TK": "on the bundle of cables",
}


def lay_down_wiring(add: Add, uids: DemoUids) -> None:
    """Leads, circuits, recorders, channels with their settings, sensors and points."""
    for group in [group for recorder in RECORDERS for group in recorder.gauges]:
        label = circuit_label(group[0])
        uids.leads[label] = add(_lead(label, group[0]))
    # The dummy comes first: circuits it compensates name it.
    groups = [group for recorder in RECORDERS for group in recorder.gauges]
    for group in sorted(groups, key=lambda group: group[0].label != "D-0"):
        uids.circuits[circuit_label(group[0])] = add(_circuit(group, uids))
    for recorder in RECORDERS:
        uids.instruments[recorder.label] = add(_instrument(recorder))
        for number, (column, unit) in enumerate(recorder.columns, start=1):
            channel = Channel(column, uids.instruments[recorder.label], number, column)
            uids.channels[column] = add(channel)
            uids.settings[column] = add(_setting(recorder, column, unit, uids))
    for sensor in _sensors():
        uids.sensors[sensor.label] = add(sensor)
    for point, where in _POINTS.items():
        gauges = tuple(uids.gauges[g.label] for g in GAUGES if g.point == point)
        uids.points[point] = add(TemperaturePoint(point, where, gauges, plan.POINT_DOUBT))


def _lead(label: str, gauge: GaugePlan) -> Lead:
    cable = plan.CABLES[gauge.pack]
    bundle = "recorder A, along the north side" if gauge.column.startswith("A") else "recorder B"
    spread = Stated(0.0, 0.02, Meaning.LIMIT, Basis.MEASURED, "pairs at the gate 'wired'")
    return Lead(f"cable {label}", 3, cable.length, cable.resistance, 20.0, bundle, spread)


def _circuit(group: tuple[GaugePlan, ...], uids: DemoUids) -> BridgeCircuit:
    label = circuit_label(group[0])
    gauge = uids.gauges[group[0].label]
    if len(group) == 2:
        arms = (Arm(1, 1, gauge), Arm(2, -1, uids.gauges[group[1].label]))
        return BridgeCircuit(label, Topology.HALF_BENDING, arms, uids.leads[label])
    arms = (Arm(1, 1, gauge), Arm(2, -1, resistance=_completion(group[0])))
    dummy = uids.circuits["D-0"] if group[0].group else None
    return BridgeCircuit(label, Topology.QUARTER_THREE_WIRE, arms, uids.leads[label], dummy)


def _completion(gauge: GaugePlan) -> Stated:
    ohm = 350.0 if gauge.pack.startswith("350") else 120.0
    return Stated(ohm, 0.0005 * ohm, Meaning.LIMIT, Basis.STATED, "recorder's certificate")


def _instrument(recorder: Recorder) -> Instrument:
    drift = 1.0e-6 if recorder.letter == "A" else 1.5e-6
    return Instrument(
        recorder.label,
        recorder.serial,
        plan.RECORDER_GAIN[recorder.label],
        recorder.dwell,
        Stated(recorder.filter_delay, 0.002, Meaning.LIMIT, Basis.STATED, "certificate (invented)"),
        True,
        "certificate 2026 (invented)",
        Stated(0.0, drift, Meaning.LIMIT, Basis.STATED, "certificate (invented), in V/V a day"),
    )


def _setting(recorder: Recorder, column: str, unit: str, uids: DemoUids) -> ChannelSetting:
    group = next((group for group in recorder.gauges if group[0].column == column), None)
    if group is None:
        return ChannelSetting(
            uids.channels[column], ReadingKind.OTHER, unit, scans_per_second=recorder.rate_hz
        )
    ratio = recorder.unit == "mV/V"
    return ChannelSetting(
        uids.channels[column],
        ReadingKind.RATIO if ratio else ReadingKind.STRAIN_LINEAR,
        unit,
        2.5,
        None if ratio else SET_GAUGE_FACTOR,
        None if len(group) == 2 else _completion(group[0]),
        -recorder.highest,
        recorder.highest,
        recorder.rate_hz,
    )


def _sensors() -> tuple[Sensor, ...]:
    gain = Stated(1.0, 0.004, Meaning.TWO_SIGMA, Basis.MEASURED, "gauge blocks (invented)")
    offset = Stated(0.0, 1.0e-5, Meaning.LIMIT, Basis.MEASURED, "gauge blocks (invented)")
    return (
        Sensor(
            "load cell",
            "force",
            1,
            plan.LOAD_CELL_GAIN,
            plan.LOAD_CELL_OFFSET,
            certificate="2026-114 (invented)",
        ),
        Sensor("D1 midspan", "distance", 1, gain, offset, certificate="2026-087 (invented)"),
        Sensor("D2 west support", "distance", -1, gain, offset, certificate="2026-088 (invented)"),
    )


def lay_down_connections(add: Add, uids: DemoUids) -> None:
    """What stood on which channel from when to when: plugged twice, one plug three times."""
    for recorder in RECORDERS:
        for group in recorder.gauges:
            label, column = circuit_label(group[0]), group[0].column
            spans: list[tuple[datetime, datetime | None]] = [
                (DAYS.plugged_before_pour, DAYS.unplugged_for_pour),
                (DAYS.plugged_before_test, None),
            ]
            if group[0].label == faults.REMADE:
                spans[1:] = [
                    (DAYS.plugged_before_test, DAYS.plug_pulled),
                    (DAYS.plug_remade, None),
                ]
            subject = uids.circuits[label]
            for number, span in enumerate(spans):
                uids.connections[label, number] = add(_connection(subject, column, span, uids))
        for other in recorder.others:
            shown = _SHOWN.get(other.shows, other.shows)
            subject_uid = uids.sensors.get(shown) or uids.points.get(shown)
            if subject_uid is not None:
                whole = (DAYS.plugged_before_pour, None)
                made = _connection(subject_uid, other.name, whole, uids)
                uids.connections[shown, 0] = add(made)


_SHOWN = {"load": "load cell", "D1": "D1 midspan", "D2": "D2 west support"}


def _connection(
    subject: Uid, column: str, span: tuple[datetime, datetime | None], uids: DemoUids
) -> Connection:
    begins, ends = span
    plug = f"seal {column}-{begins:%m%d%H%M}"
    return Connection(subject, uids.channels[column], uids.settings[column], begins, ends, plug)


def lay_down_events(protocol: Protocol, replug_words: str, add: Add, uids: DemoUids) -> None:
    """What people wrote down while it happened, and the steps of the test."""
    remade = uids.circuits[faults.REMADE]
    share = protocol.duration
    written = (
        (DAYS.pour, "pour", "concrete placed from the west end, internal vibrator", None),
        (DAYS.plug_pulled, "plug pulled", f"plug of {faults.REMADE} caught by a trolley", remade),
        (DAYS.plug_remade, "plug remade", replug_words, remade),
        (DAYS.test, "recording begun", "test file of both recorders, trigger box turned", None),
        (
            at_second(DAYS.test, 0.22 * share),
            "lamp on",
            "photo lamp put up on the north side, near the cables of recorder A",
            None,
        ),
        (
            at_second(DAYS.test, protocol.step_named("45 kN").ramp_ends + 4.0),
            "crack seen",
            "first crack, midspan",
            None,
        ),
        (
            at_second(DAYS.test, share) + timedelta(minutes=1),
            "recording ended",
            "beam unloaded, supports checked",
            None,
        ),
    )
    for at, kind, text, subject in written:
        uids.events.append(add(Event(at, kind, text, subject)))
    for step in protocol.steps:
        if step.ends > step.ramp_ends:
            begins, ends = (at_second(DAYS.test, s) for s in (step.ramp_ends, step.ends))
            uids.load_steps[step.label] = add(LoadStep(step.label, begins, ends, step.load))
