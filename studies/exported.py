"""A design of a run on its way out: found, solved anew where fields are wanted, at one place and in one state."""

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from studies.coupling import asked_of
from studies.engineering import engineering, place_text
from studies.errors import RunError
from studies.linking import Linked, linked
from studies.one_state import LinkedInState, in_every_state, linked_in_state
from studies.space_places import check_places
from studies.specification import Candidate, Place, state_names
from studies.store import read_run
from studies.stored import Run, StoredDesign

STORED_ANEW = 1e-3
"""By how much a chip voltage computed anew may be off the stored one without a word, relative."""


@dataclass(frozen=True, slots=True, eq=False)
class RunDesign:
    """A design that a run has computed: its run, what is stored of it, and what it is made from."""

    run: Run
    stored: StoredDesign
    candidate: Candidate

    @property
    def name(self) -> str:
        """Of study and design, fit for a file's name."""
        return f"{self.run.study.name}-{self.stored.design}"


@dataclass(frozen=True, slots=True, eq=False)
class AtPlace:
    """The link of a design at one place in one state, the lean the worst way.

    ``mutual_inductance`` [H] is that of the coils themselves, whatever lead lies between coil and reader; ``link`` is
    of shape (1,); ``remarks`` are sentences for whoever reads the file.
    """

    place: Place
    found: LinkedInState
    mutual_inductance: complex
    link: Linked
    remarks: tuple[str, ...] = ()

    @property
    def lean(self) -> str:
        """How the tag leans there, in words, with the signed tilt that a list of readings has."""
        if self.place.tilt == 0.0:
            return "upright"
        tilt = np.degrees(abs(self.place.tilt))
        if self.place.offset == 0.0:
            return "leaning any way, which on the axis is all one"
        way, sign = ("outward", "+") if self._leans_outward() else ("inward", "−")
        return f"leaning the worst way, its top {way} (a signed tilt of {sign}{tilt:.4g}°)"

    def _leans_outward(self) -> bool:
        place, coupling = self.place, self.found.coupling
        at = np.array([place.height]), np.array([place.offset])
        outward, inward = (
            coupling.grid(*at, np.array([tilt])).mutual_inductance[0, 0, 0]
            for tilt in (abs(place.tilt), -abs(place.tilt))
        )
        return bool(abs(outward - self.mutual_inductance) <= abs(inward - self.mutual_inductance))


def run_design(folder: Path, design: str) -> RunDesign:
    """Find a design of a run.

    Raises
    ------
    RunError, StudyFaults
        Where there is no such run or design, it failed, or has not been computed yet.
    """
    run = read_run(folder)
    study = run.study
    names = {study.design_name(index): index for index in range(study.count)}
    if design not in names:
        first, last = study.design_name(0), study.design_name(study.count - 1)
        raise RunError(f'no design of {study.name} is called "{design}"; {first} to {last} are')
    stored = next((one for one in run.designs if one.design == design), None)
    if stored is None:
        raise RunError(
            f"{design} has not been computed yet: {folder} holds {len(run.designs)} of {study.count} designs; "
            "`trivet run` with the same study carries on"
        )
    if stored.status != "done":
        raise RunError(f"{design} failed, there is nothing to export of it: {stored.message}")
    return RunDesign(run, stored, study.candidate(names[design]))


def at_place(design: RunDesign, place: Place | None, state: str | None) -> AtPlace:
    """Solve a design and work out its link at a place.

    Parameters
    ----------
    design : RunDesign
        As stored.
    place : Place or None
        None is the place with the least margin of those that are required.
    state : str or None
        None is the state with the least margin at that place.

    Raises
    ------
    RunError
        Where there is no such state.
    GeometryError, MeshingError, FieldError, LinkError
        Where the map does not cover the place, or it cannot be computed.
    """
    candidate = design.candidate
    known = state_names(candidate)
    if state is not None and state not in known:
        raise RunError(f'no state of {candidate.design} is called "{state}"; {", ".join(known)}')
    if place is not None:
        check_places(candidate, (place,))
    found = [one for one in in_every_state(candidate, linked_in_state) if state in (None, one.candidate.state)]
    at = [_at(one, asked) for one in found for asked in ((place,) if place else [p.place for p in one.places])]
    worst = min(at, key=lambda one: round(float(one.link.margin[0]), 6))
    return worst if place or state else replace(worst, remarks=_against_stored(design, worst))


def _at(found: LinkedInState, place: Place) -> AtPlace:
    candidate, coupling = found.candidate, found.coupling
    asked = asked_of(coupling, (place,))
    leans = [linked(candidate, coupling, asked.heights, mutual) for mutual in asked.extremes]
    worst = min((0, 1), key=lambda lean: float(leans[lean].margin[0]))
    return AtPlace(place, found, complex(asked.extremes[worst, 0]), leans[worst])


def _against_stored(design: RunDesign, at: AtPlace) -> tuple[str, ...]:
    """That the run's own numbers are others, where an older version of the physics made them."""
    stored, now = design.stored.row.get("chip_voltage_V"), float(at.link.chip_voltage[0])
    if not isinstance(stored, float) or np.isclose(now, stored, rtol=STORED_ANEW, atol=0.0):
        return ()
    return (
        f"computed anew, the chip's voltage at {place_text(at.place)} is {engineering(now, 'V')}, where the run stores "
        f"{engineering(stored, 'V')} for its worst place: it was made by another version; run the study again",
    )
