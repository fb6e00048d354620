"""The commands that print what coupons say: results coupon, results cyclic-fit."""

import math
from typing import TYPE_CHECKING, Annotated, Any

import typer

from gaugewright.cli.options import AsJson, CampaignFolder, settings_of
from gaugewright.cli.speech import result, table
from gaugewright.cli.teaching import teaching
from gaugewright.errors import InputError

if TYPE_CHECKING:
    from gaugewright.present.units_shown import System
    from gaugewright.records import Entry
    from gaugewright.records.coupons import CouponTest
    from gaugewright.records.stated import Stated
    from gaugewright.services.campaign.book import Book
    from gaugewright.services.coupon.cyclic import CyclicCoupon
    from gaugewright.services.coupon.evaluated import CouponResult
    from gaugewright.store.campaign import CampaignStore

__all__ = ["add_to", "coupon_lines", "coupon_plain", "others_typed"]

_HOW_LENGTH = 64

COUPONS = teaching(
    does="""Print what the coupons of a campaign say of their metal: each value with its
    uncertainty and how it was had, or why it was refused.""",
    when="after gaugewright coupon stated a test; again whenever a number is asked for.",
    example="gaugewright results coupon beams-2026 coupon3",
    after="gaugewright coupon ... --material LABEL, so that strain becomes stress by this metal",
)
CYCLIC = teaching(
    does="""Fit the cyclic law of Giuffrè, Menegotto and Pinto to a coupon strained to and fro, and
    say how near it comes: root mean square and greatest of the stress left over, R², which
    properties the record doesn't determine. The cycles of its strain are counted by rainflow
    beside it. COUPON is a test stated before, or a recording with the values that state it.""",
    when="""a coupon of the bars was strained to and fro, and stress beyond yield is wanted of
    gauges that turn.""",
    example="""gaugewright results cyclic-fit beams-2026 cyclic1 --force-column Eng_Stress
    --strain-column Eng_Strain --elastic-from 50 --elastic-to 200""",
    after="use the properties for histories like the coupon's, with the misfit as the least doubt",
)


def add_to(app: typer.Typer) -> None:
    """Give the commands of this module their names."""
    app.command("coupon", help=COUPONS)(coupon)
    app.command("cyclic-fit", help=CYCLIC)(cyclic_fit)


def coupon(
    context: typer.Context,
    folder: CampaignFolder,
    label: Annotated[
        str, typer.Argument(metavar="[COUPON]", help="One coupon; all when left out.")
    ] = "",
    as_json: AsJson = False,
) -> None:
    """Print what coupons say of their metal."""
    from gaugewright.records.coupons import CouponTest
    from gaugewright.services.campaign import campaigns
    from gaugewright.services.campaign.book import Book
    from gaugewright.services.coupon import evaluated as coupons

    with campaigns.opened(folder, settings_of(context), read_only=True) as store:
        book = Book.read(store)
        tests = (book.labelled(CouponTest, label),) if label else book.of(CouponTest)
        found: list[CouponResult] = []
        refused: list[tuple[str, str]] = []
        for test in tests:
            try:
                found.append(coupons.evaluated(store, book, test))
            except InputError as error:
                if label:
                    raise
                refused.append((test.record.label, str(error)))
        system = campaigns.system_of(store)
    lines = [line for one in found for line in (*coupon_lines(one, system), "")]
    lines += [f"{name}: {why}" for name, why in refused]
    if not tests:
        lines = ["No coupon is stated yet; state one with: gaugewright coupon"]
    plain = {
        "campaign": str(folder),
        "coupons": [coupon_plain(one) for one in found],
        "not_evaluated": [{"coupon": name, "why": why} for name, why in refused],
    }
    result(as_json, plain, lines)


def cyclic_fit(
    context: typer.Context,
    folder: CampaignFolder,
    coupon: Annotated[
        str,
        typer.Argument(
            metavar="COUPON", help="A test, recording or file by its label.", show_default=False
        ),
    ],
    area: Annotated[str, typer.Option(metavar="VALUE", help="Original area, for a force.")] = "",
    diameter: Annotated[str, typer.Option(metavar="VALUE", help="Or the diameter.")] = "",
    gauge_length: Annotated[
        str, typer.Option(metavar="VALUE", help="Of the extensometer, for an extension.")
    ] = "",
    force_column: Annotated[
        str, typer.Option(metavar="COLUMN", help="Column of force, or of stress.")
    ] = "",
    strain_column: Annotated[str, typer.Option(metavar="COLUMN", help="Column of strain.")] = "",
    elastic_from: Annotated[
        str, typer.Option(metavar="STRESS", help="Where the elastic line of first loading begins.")
    ] = "",
    elastic_to: Annotated[str, typer.Option(metavar="STRESS", help="Where it ends; MPa.")] = "",
    modulus: Annotated[str, typer.Option(metavar="VALUE", help="From another test; GPa.")] = "",
    gate: Annotated[
        float | None,
        typer.Option(
            metavar="MICROSTRAIN",
            help="Smallest move that is a reversal; six deviations of its noise if unsaid.",
        ),
    ] = None,
    material: Annotated[
        str, typer.Option(metavar="LABEL", help="Metal to make, or make a new version, of this.")
    ] = "",
    thermal_expansion: Annotated[
        str, typer.Option(metavar="VALUE", help="Of a new metal; ×10⁻⁶/K.")
    ] = "",
    poisson_ratio: Annotated[str, typer.Option(metavar="VALUE", help="Of a new metal.")] = "",
    as_json: AsJson = False,
) -> None:
    """Fit the cyclic law to a coupon strained to and fro."""
    from gaugewright.services.campaign import campaigns
    from gaugewright.services.campaign.book import Book
    from gaugewright.services.coupon import cyclic as coupon_cyclic
    from gaugewright.services.coupon import material as coupon_material

    typed = {
        "area": area,
        "diameter": diameter,
        "gauge_length": gauge_length,
        "elastic_from": elastic_from,
        "elastic_to": elastic_to,
        "modulus": modulus,
    }
    columns = (force_column, strain_column)
    read_only = not (any(typed.values()) or any(columns) or material)
    with campaigns.opened(folder, settings_of(context), read_only=read_only) as store:
        test = _test(store, Book.read(store), coupon, typed, columns)
        found = coupon_cyclic.cyclic_coupon(
            store, Book.read(store), test, gate=None if gate is None else gate * 1e-6
        )
        system = campaigns.system_of(store)
        lines, plain = _cyclic_lines(found, system), _cyclic_plain(found)
        if material:
            metal = {"thermal_expansion": thermal_expansion, "poisson_ratio": poisson_ratio}
            made = coupon_material.cyclic_material(
                store, found, material, others=others_typed(store, metal)
            )
            plain["material"] = {"uid": made.uid, "version": made.version, "label": material}
            lines += ["", f"Metal {material} is version {made.version}, by this law."]
    result(as_json, plain, lines)


def others_typed(store: "CampaignStore", typed: dict[str, str]) -> "dict[str, Stated]":
    """What a coupon doesn't tell of a metal, as far as it was typed."""
    from gaugewright.services.campaign import campaigns
    from gaugewright.services.work.typed_values import stated_typed

    return {
        name: stated_typed(name, text, name, campaigns.system_of(store))
        for name, text in typed.items()
        if text.strip()
    }


def _test(
    store: "CampaignStore",
    book: "Book",
    name: str,
    typed: dict[str, str],
    columns: tuple[str, str],
) -> "Entry[CouponTest]":
    from gaugewright.records.coupons import CouponTest
    from gaugewright.services.campaign import campaigns
    from gaugewright.services.coupon import of_recordings as coupon_tests

    if not any(typed.values()) and not any(columns):
        return book.labelled(CouponTest, name)
    recording = coupon_tests.recording_of(store, name)
    stated = coupon_tests.coupon_typed(
        recording, typed, campaigns.system_of(store), columns=columns
    )
    return coupon_tests.kept_test(store, stated)


def coupon_lines(found: "CouponResult", system: "System") -> list[str]:
    """A coupon as a table of values, the quality of its line, and what isn't in the doubts."""
    from gaugewright.services.coupon import words as coupon_words

    told = coupon_words.rows(found, system)
    # Long reasons stand below the table, each once.
    below: dict[str, list[str]] = {}
    rows = []
    for row in told:
        is_long = len(row.how) > _HOW_LENGTH
        if is_long:
            below.setdefault(row.how, []).append(row.symbol or row.name)
        words = "see below" if is_long else row.how
        number = row.number.text if row.number else "-"
        rows.append((f"{row.name} {row.symbol}".strip(), number, words))
    return [
        f"Coupon {found.test.record.label}",
        *table(("value", "95 %", "how, or why not"), rows),
        "",
        *(f"{', '.join(names)}: {why}." for why, names in below.items()),
        coupon_words.quality_sentence(found, system),
        coupon_words.extensometer_sentence(found, system),
        *(f"Not in the ±: {words}." for words in found.left_out),
    ]


def coupon_plain(found: "CouponResult") -> dict[str, Any]:
    """A coupon as JSON values in SI units, nothing rounded."""
    from gaugewright.services.coupon import evaluated as coupons

    line, values = found.values.line, found.values
    read = found.strain[: values.extensometer_rows]
    return {
        "coupon": found.test.record.label,
        "test": found.test.uid,
        "version": found.test.version,
        "elastic_line": {
            "from_pa": found.bounds[0],
            "to_pa": found.bounds[1],
            "stated": found.bounds_stated,
            "slope_pa": line.elastic_modulus,
            "local_moduli_pa": [None if math.isnan(m) else m for m in line.local_moduli.tolist()],
            **coupons.quality_of(found),
        },
        "doubts": list(values.doubts),
        "extensometer_rows": values.extensometer_rows,
        "last_strain": float(read[-1]) if read.size else None,
        "values": {
            row.key: {
                "value": None if row.value is None else float(row.value.value),
                "expanded_uncertainty": None if row.value is None else float(row.value.expanded()),
                "coverage": 0.95,
                "how": row.how,
            }
            for row in coupons.values_of(found)
        },
        "not_in_uncertainty": list(found.left_out),
    }


def _cyclic_lines(found: "CyclicCoupon", system: "System") -> list[str]:
    from gaugewright.services.coupon import words as coupon_words

    rows = coupon_words.cyclic_rows(found, system)
    return [
        f"Coupon {found.test.record.label}, strained to and fro",
        *table(("property", "value"), rows),
        "",
        *coupon_words.cyclic_sentences(found, system),
    ]


def _cyclic_plain(found: "CyclicCoupon") -> dict[str, Any]:
    fit = found.fit
    steel = {
        name: float(getattr(fit.steel, name))
        for name in (
            "elastic_modulus",
            "yield_strength",
            "hardening_share",
            "curvature_exponent",
            "curvature_loss",
            "curvature_loss_half",
            "compression_growth",
            "tension_growth",
        )
    }
    return {
        "coupon": found.test.record.label,
        "first_loading": "tension" if found.direction > 0 else "compression",
        "steel": steel,
        "misfit_pa": fit.misfit,
        "greatest_misfit_pa": fit.greatest_misfit,
        "determination": fit.determination,
        "not_determined": list(fit.at_bounds),
        "samples": fit.samples,
        "settled": fit.settled,
        "gate": found.gate,
        "cycles": float(found.cycles.counts.sum()),
        "cycles_without_gate": float(found.every.counts.sum()),
        "largest_range": float(found.cycles.ranges.max()) if found.cycles.ranges.size else 0.0,
        "doubts_of_modulus": list(found.doubts),
    }
