"""What a half-duplex tag's storage capacitor has to spend."""

from links.errors import LinkError


def usable_energy(capacitance: float, full_voltage: float, minimum_voltage: float) -> float:
    """Energy a capacitor gives while its voltage falls, ½C(V0² − V²) [J].

    Parameters
    ----------
    capacitance : float
        [F].
    full_voltage, minimum_voltage : float
        DC voltage at the beginning and at the end [V].

    Raises
    ------
    LinkError
        Where the end lies above the beginning.
    """
    if minimum_voltage > full_voltage:
        raise LinkError("minimum voltage", f"{minimum_voltage} V given; it must not exceed {full_voltage} V")
    return 0.5 * capacitance * (full_voltage**2 - minimum_voltage**2)
