"""The march of a cold process, and the jet of the separate implementation that the model was compared with."""

import pytest

from soundedge.basis.remembered import forget
from soundedge.heat import jet, march


@pytest.fixture(scope="module")
def by_numpy():
    """NumPy marches in this module: it is what the sources are held against, and the compiled march is held against it."""
    forget()
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(march, "compiled", None)
        yield
    forget()


@pytest.fixture
def laminar_middle(monkeypatch):
    """Its middle is 1.3 times laminar theory, Nu = 0.585·Pr^0.4·Re^0.5: where times and temperatures of that
    implementation are held, the physics is compared and not the jet."""
    monkeypatch.setattr(jet, "MEASURED_NU", 1.3 * 0.585 * jet.MEASURED_PR**0.4 * jet.MEASURED_RE**0.5)
