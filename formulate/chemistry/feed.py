"""What goes into the equations of an equilibrium, and where their rounds have come to."""

from dataclasses import dataclass

import numpy as np

__all__ = ["Balance", "Feed"]

RESULTS = ("ln_h", "ln_water", "strength", "change", "settled")


@dataclass
class Feed:
    """
    What goes into the equations, all per kg of water.

    Attributes
    ----------
    cations : list of float or array
        Total of each cation, in the order of the network. [mol/kg]
    ligands : list of float or array
        Total of each ligand. [mol/kg]
    inert : list of float or array
        Total of each form that pairs with nothing. [mol/kg]
    charge : float or array or None
        Q: charge of all totals as bare ions and of unnamed ions; None if the pH is imposed.
        [mol/kg]
    rough : float or array
        Sum of the magnitudes in that charge: how far its rounding reaches. [mol/kg]
    ln_h : float or array or None
        Logarithm of the activity of H+ if it is imposed. [-]
    unnamed : float or array
        Molality of unnamed ions, counted as singly charged. [mol/kg]
    held : tuple of (int, int, float) or None
        Place of a ligand that the air holds, its protons in the form that passes into the
        air, and the activity of that form over its constant. [-]
    """

    cations: list
    ligands: list
    inert: list
    charge: object = None
    rough: object = 0.0
    ln_h: object = None
    unnamed: object = 0.0
    held: object = None

    def taking(self, which):
        """
        Return the feed of some columns.

        Parameters
        ----------
        which : slice or array
            Which columns. [-]

        Returns
        -------
        Feed
            Their part of it. [mol/kg]

        Examples
        --------
        >>> part = Feed([np.array([1.0, 2.0])], [], []).taking(slice(1))
        >>> part.cations[0].tolist()
        [1.0]
        """
        some = [
            [values[which] for values in values_of]
            for values_of in (self.cations, self.ligands, self.inert)
        ]
        rest = [
            value[which] if isinstance(value, np.ndarray) else value
            for value in (self.charge, self.rough, self.ln_h, self.unnamed)
        ]
        return Feed(*some, *rest, self.held)


@dataclass
class Balance:
    """
    Where the rounds have come to, all per kg of water.

    Attributes
    ----------
    amounts : list of float or array
        Molality of each species, in the order of the network. [mol/kg]
    ligands : list of float or array
        Activity of each bare ligand. [-]
    ln_h : float or array
        Logarithm of the activity of H+. [-]
    ln_water : float or array
        Logarithm of the activity of water. [-]
    strength : float or array
        Ionic strength that the activity coefficients belong to. [mol/kg]
    before : tuple of float or array
        Ionic strength that went into the round before, and that came out. [mol/kg]
    change : float or array
        Largest relative change in the last round. [-]
    settled : bool or array of bool
        Whether that is as small as rounding lets it be. [-]
    rounds : int
        How many rounds there were. [-]
    """

    amounts: list
    ligands: list
    ln_h: object
    ln_water: object
    strength: object
    before: object = None
    change: object = 1.0
    settled: object = False
    rounds: int = 0

    def taking(self, which):
        """
        Return where some columns have come to.

        Parameters
        ----------
        which : slice or array
            Which columns. [-]

        Returns
        -------
        Balance
            Their part of it. [mol/kg]

        Examples
        --------
        >>> two = np.array([1.0, 2.0])
        >>> state = Balance([two], [], two, two, two, (two, two), two)
        >>> state.taking(slice(1)).strength.tolist()
        [1.0]
        """
        return Balance(
            [values[which] for values in self.amounts],
            [values[which] for values in self.ligands],
            self.ln_h[which],
            self.ln_water[which],
            self.strength[which],
            tuple(values[which] for values in self.before),
            self.change[which],
            rounds=self.rounds,
        )

    def putting(self, which, other):
        """
        Take over what other columns have come to.

        Parameters
        ----------
        which : array
            Which columns. [-]
        other : Balance
            What they have come to. [mol/kg]

        Examples
        --------
        >>> state, other = Balance.emptied(1, 2), Balance.emptied(1, 1)
        >>> other.strength[:] = 0.5
        >>> state.putting([1], other)
        >>> state.strength[1].item()
        0.5
        """
        for mine, its in zip(self.amounts, other.amounts, strict=True):
            if mine.flags.writeable:  # what pairs with nothing stays as it was given
                mine[which] = its
        for name in RESULTS:
            getattr(self, name)[which] = getattr(other, name)

    @staticmethod
    def emptied(rows, size):
        """
        Return room for so many rows and columns.

        Parameters
        ----------
        rows : int
            Number of species. [-]
        size : int
            Number of columns. [-]

        Returns
        -------
        Balance
            Not yet filled. [mol/kg]

        Examples
        --------
        >>> Balance.emptied(3, 2).amounts.shape
        (3, 2)
        """
        room = [np.empty(size) for _ in range(4)]
        ln_h, ln_water, strength, change = room
        amounts, settled = np.empty((rows, size)), np.empty(size, bool)
        return Balance(amounts, [], ln_h, ln_water, strength, None, change, settled)
