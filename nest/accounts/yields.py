"""How much of a material is cut, and how much of it stays in the shoe."""

from dataclasses import dataclass

from nest.accounts.areas import AreaAccount


@dataclass(frozen=True, slots=True)
class Yields:
    """Shares of the material area (0..1): `cutting` counts the rough area placed, `net` the net area placed."""

    cutting: float
    net: float


def yields(account: AreaAccount) -> Yields:
    """Cutting yield and net yield of a hide, a lay or a whole order; both 0 where there is no material."""
    if account.material_mm2 <= 0.0:
        return Yields(0.0, 0.0)
    return Yields(account.rough_mm2 / account.material_mm2, account.net_mm2 / account.material_mm2)
