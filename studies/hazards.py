"""The cautions that a candidate's numbers, or the greatest of a whole run, call for."""

from collections.abc import Iterable

from links.cautions import HazardFigures, cautions
from studies.rows import AnyRow
from studies.specification import Candidate

ROOM_TEMPERATURE = 20.0

HOTTEST = "hottest_part_degC"
"""Column of the hottest layer or solid."""

FAR_FIELD = "field_at_10_m_rms_A_per_m"
"""Column of the field at 10 m."""


MAGNET_CAUTION = (
    "Strong magnets snap together, can disturb implants such as pacemakers and erase magnetic media; keep them well "
    "away from both."
)


def hottest_part(candidate: Candidate) -> float:
    """Temperature of the hottest layer or solid; of the room where there is neither [°C]."""
    stack = candidate.stack
    found = [layer.temperature for layer in stack.layers] + [solid.temperature for solid in stack.solids]
    return max(found, default=ROOM_TEMPERATURE)


def candidate_cautions(candidate: Candidate, rows: Iterable[AnyRow]) -> tuple[str, ...]:
    """Sentences for the greatest voltage, field and temperature among ``rows``, on the stack of ``candidate``."""
    rows = list(rows)
    stack = candidate.stack
    found = cautions(
        HazardFigures(
            candidate.frequency,
            max(_greatest(rows, "coil_voltage_V"), _greatest(rows, "capacitor_voltage_V")),
            _greatest(rows, "flux_density_on_plate_rms_T"),
            max(hottest_part(candidate), _greatest(rows, HOTTEST)),
            any(layer.ribbon_width is not None for layer in stack.layers),
            _greatest(rows, FAR_FIELD),
        )
    )
    if not (candidate.magnets or candidate.drive_magnets):
        return found
    return (*found[:-1], MAGNET_CAUTION, found[-1])  # what the calculation is not stays the last word


def _greatest(rows: list[AnyRow], name: str) -> float:
    return max((value for row in rows if isinstance(value := row.get(name), float)), default=0.0)
