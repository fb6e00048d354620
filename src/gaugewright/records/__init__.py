"""What a laboratory writes down: frozen records, validated when made, without formulas."""

from dataclasses import dataclass
from datetime import datetime
from typing import Generic, TypeVar

from gaugewright.errors import InputError
from gaugewright.records import (
    benching,
    corrections,
    coupons,
    electrical,
    gauges,
    identifying,
    member,
    planning,
    proof,
    readings,
    results,
    scheduling,
    sensors,
    specimen,
)
from gaugewright.records.identity import Ref, Uid

__all__ = ["KINDS", "Entry", "kind_of", "kind_said", "label_of"]

R = TypeVar("R")

KINDS: dict[str, type] = {
    "campaign": specimen.Campaign,
    "question": specimen.Question,
    "specimen": specimen.Specimen,
    "material": specimen.Material,
    "bar": specimen.Bar,
    "station": specimen.Station,
    "smoothed zone": specimen.SmoothedZone,
    "flat": specimen.Flat,
    "concrete": member.Concrete,
    "member": member.Member,
    "protocol": planning.Protocol,
    "bar loading": planning.BarLoading,
    "gauge pack": gauges.GaugePack,
    "gauge": gauges.Gauge,
    "protection": gauges.Protection,
    "supply": gauges.Supply,
    "bench step": gauges.BenchStep,
    "bench override": benching.BenchOverride,
    "bench days": scheduling.BenchDays,
    "bench plan": scheduling.BenchPlan,
    "attachment": gauges.Attachment,
    "lead": electrical.Lead,
    "bridge circuit": electrical.BridgeCircuit,
    "instrument": electrical.Instrument,
    "channel": electrical.Channel,
    "channel setting": electrical.ChannelSetting,
    "connection": electrical.Connection,
    "shunt step": electrical.ShuntStep,
    "identity proof": identifying.IdentityProof,
    "sensor": sensors.Sensor,
    "temperature point": sensors.TemperaturePoint,
    "meter": proof.Meter,
    "gate check": proof.GateCheck,
    "zero": proof.Zero,
    "calibration": proof.Calibration,
    "stage switch": corrections.StageSwitch,
    "limit": proof.Limit,
    "method": proof.Method,
    "person": proof.Person,
    "signature": proof.Signature,
    "reading profile": readings.ReadingProfile,
    "clock": readings.Clock,
    "clock map": readings.ClockMap,
    "recording": readings.Recording,
    "event": readings.Event,
    "load step": readings.LoadStep,
    "finding": readings.Finding,
    "coupon test": coupons.CouponTest,
    "fatigue curve": coupons.FatigueCurve,
    "chain": results.Chain,
    "result": results.Result,
    "evidence": results.Evidence,
}
_SAID = {"instrument": "recorder"}
_NAMES = {record_class: name for name, record_class in KINDS.items()}


@dataclass(frozen=True, slots=True)
class Entry(Generic[R]):
    """One version of a record with who wrote it and when; the record itself never changes."""

    uid: Uid
    version: int
    at: datetime
    person: Uid | None
    reason: str
    withdrawn: bool
    record: R

    @property
    def ref(self) -> Ref:
        """What results and signatures point to."""
        return Ref(self.uid, self.version)


def kind_of(record: object) -> str:
    """Name of a record's kind, as the store and the journal write it.

    Raises
    ------
    InputError
        If the object isn't one of the records.
    """
    name = _NAMES.get(type(record))
    if name is None:
        raise InputError("record", type(record).__name__, "one of " + ", ".join(KINDS))
    return name


def kind_said(record: object) -> str:
    """Kind of a record, or of a class of records, in the one word that people are shown.

    Stores keep the words of :func:`kind_of`; where the trade's word is another one, a person
    reads that.

    Raises
    ------
    InputError
        If it isn't one of the records.

    Examples
    --------
    >>> kind_said(electrical.Instrument)
    'recorder'
    """
    name = _NAMES.get(record) if isinstance(record, type) else None
    name = name or kind_of(record)
    return _SAID.get(name, name)


def label_of(record: object) -> str:
    """Label a person knows the record by, or "" for kinds without one."""
    return str(getattr(record, "label", ""))
