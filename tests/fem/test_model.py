"""Constants of regions and thin layers against the loss laws they stand for."""

from math import pi

import pytest

from fem.model import Body, Model, SheetTerms, joined, ribbon_magnetisation, ribbon_screening, stack_model, tag_model
from geometries.materials import Material
from geometries.stack import Layer, Solid, Stack
from tests.fem.cases import (
    AIR_TAG,
    ALUMINIUM,
    DRUM_TAG,
    FREQUENCY,
    LOSSY_FERRITE,
    NICKEL_CHROMIUM,
    lossy,
    ribbon_stack,
    sheet_stack,
)

MU0 = 4e-7 * pi
OMEGA = 2.0 * pi * FREQUENCY


def ribbon(thickness: float, **changes: float) -> Layer:
    sizes = {"ribbon_width": 2.5e-3, "pitch": 4e-3} | changes
    return Layer("heater", "meander", NICKEL_CHROMIUM, -0.004, thickness, 0.07, **sizes)


def test_closed_foil_conducts_all_it_has():
    model = stack_model(sheet_stack(50.0, -0.004, 0.07), FREQUENCY)
    assert model.angular_frequency == pytest.approx(OMEGA, rel=1e-12, abs=0.0)
    assert list(model.sheets) == ["layer foil"]
    assert model.sheets["layer foil"].conductance == pytest.approx(50.0, rel=1e-12, abs=0.0)
    assert model.sheets["layer foil"].magnetisation == 0.0


def test_thin_ribbon_takes_the_loss_of_a_long_strip_across_the_field():
    # σω²B²tw³/24 per length (peak B), one strip a pitch; the layer's own loss is ½ ω Im(m) B²/μ0 per area.
    layer = ribbon(1e-7)
    sigma_t = NICKEL_CHROMIUM.conductivity(20.0) * 1e-7
    expected = OMEGA**2 * sigma_t * 2.5e-3**3 / (24.0 * 4e-3)
    assert 0.5 * OMEGA * ribbon_magnetisation(layer, FREQUENCY).imag / MU0 == pytest.approx(expected, rel=1e-5, abs=0.0)


def test_ribbon_screening_number():
    sigma_t = 2e-4 / 1.09e-6
    assert ribbon_screening(ribbon(2e-4), FREQUENCY) == pytest.approx(OMEGA * MU0 * sigma_t * 2.5e-3, rel=1e-9, abs=0.0)


def test_ribbon_screens_itself_by_the_fitted_factor():
    x, filled = ribbon_screening(ribbon(2e-4), FREQUENCY), 2.5 / 4.0
    c = 0.119 - 0.0455 * filled**2 - 0.0155 * filled**6  # DESIGN 4.2
    weak = ribbon_magnetisation(ribbon(1e-9), FREQUENCY) * 2e5
    assert ribbon_magnetisation(ribbon(2e-4), FREQUENCY) / weak == pytest.approx(
        1.0 / (1.0 + 1j * c * x), rel=1e-4, abs=0.0
    )
    assert x > 0.4  # else the factor would say little


def test_wide_ribbons_lose_with_the_cube_of_their_width():
    wide, narrow = (ribbon_magnetisation(ribbon(1e-9, ribbon_width=w), FREQUENCY).imag for w in (3e-3, 1.5e-3))
    assert wide / narrow == pytest.approx(8.0, rel=1e-4, abs=0.0)


@pytest.mark.parametrize("missing", ["ribbon_width", "pitch"])
def test_ribbon_without_its_sizes_is_refused(missing):
    layer = ribbon(2e-5, **{missing: None})
    with pytest.raises(ValueError, match="layer heater has no ribbon width"):
        ribbon_magnetisation(layer, FREQUENCY)


def test_ribbon_layers_carry_no_closed_current():
    terms = stack_model(ribbon_stack(-0.004, 0.07), FREQUENCY).sheets["layer heater"]
    assert terms.conductance == 0.0
    assert terms.magnetisation != 0.0


def test_bodies_have_their_permeability_and_their_heat():
    warm = Material("warm", 1e-6, temperature_coefficient=0.004, relative_permeability=50.0)
    solid = Solid("block", warm, ((0.0, -0.02), (0.05, -0.02), (0.05, -0.01)), temperature=270.0)
    thick = Layer("plate", "solid", ALUMINIUM, 0.0, 0.004, 0.08)
    bodies = stack_model(Stack((thick, Layer("gap", "gap", None, -0.004, 0.001, 0.08)), (solid,)), FREQUENCY).bodies
    assert set(bodies) == {"layer plate", "solid block"}
    assert bodies["solid block"].reluctivity == pytest.approx(0.02, rel=1e-12, abs=0.0)
    assert bodies["solid block"].conductivity == pytest.approx(5e5, rel=1e-12, abs=0.0)
    assert bodies["layer plate"] == Body(1.0, ALUMINIUM.conductivity(20.0))


def test_lossy_ferrite_takes_power():
    # ν = (μ' + jμ'')/(μ0|μ|²): a positive imaginary part is a loss.
    body = tag_model(lossy(DRUM_TAG), FREQUENCY).bodies["tag core"]
    mu = LOSSY_FERRITE.permeability
    assert mu.imag < 0.0 < body.reluctivity.imag
    assert body.reluctivity == pytest.approx((mu.real - 1j * mu.imag) / abs(mu) ** 2, rel=1e-12, abs=0.0)


def test_air_core_has_no_body():
    assert tag_model(AIR_TAG, FREQUENCY).bodies == {}


def test_lossless_only_where_every_term_is_real():
    assert tag_model(DRUM_TAG, FREQUENCY).lossless
    assert not tag_model(lossy(DRUM_TAG), FREQUENCY).lossless
    assert not Model(1.0, {"a": Body(1.0, 1.0)}).lossless
    assert not Model(1.0, {}, {"a": SheetTerms(1.0)}).lossless


def test_joined_and_taken_out_again():
    stack = sheet_stack(50.0, -0.004, 0.07)
    both = joined(stack_model(stack, FREQUENCY), tag_model(DRUM_TAG, FREQUENCY))
    assert set(both.bodies) | set(both.sheets) == {"tag core", "layer foil"}
    assert both.without("tag core", "layer foil") == Model(both.angular_frequency, {}, {})
    assert both.without("tag core").sheets == both.sheets
