"""How many protons a form holds in a solution, in the mean over all its species."""

__all__ = ["mean_protons", "places_of"]

TINY = 1e-300  # mol/kg


def mean_protons(state, form):
    """
    Return how many protons a form holds in the mean, more than its bare ion.

    Parameters
    ----------
    state : Speciation
        The state.
    form : str
        Key of the form, such as "phosphate".

    Returns
    -------
    float or array
        Protons; below 0 for a metal that has lost some to OH-. [-]

    Examples
    --------
    >>> from formulate.chemistry.speciation import speciate
    >>> from formulate.stoichiometry.solution import solution
    >>> state = speciate(solution({"K": 1.0, "P": 1.0}), ph=5.0)
    >>> round(mean_protons(state, "phosphate"), 2)
    1.99
    """
    net = state.net
    forms = (*net.cations, *net.ligands)
    if form not in forms:
        return state.shaped(0.0 * state.strength)
    families = {forms[place]: groups for place, groups in net.families}
    held = [
        (n, state.molalities[row]) for n, rows in families.get(form, ()) for row in rows
    ]
    total = sum(state.molalities[row] for row in places_of(net, form))
    return state.shaped(sum(n * m for n, m in held) / (total + TINY))


def places_of(net, form):
    """
    Return the places of all species that hold a form; of pairs in twos, twice.

    Parameters
    ----------
    net : Network
        The species that can be there.
    form : str
        Key of the form, such as "phosphate"; or of a chelate, such as "edta:iron_iii".

    Returns
    -------
    tuple of int
        Places among the species of the network; none if the form is not in it. [-]

    Examples
    --------
    >>> from formulate.chemistry.speciation import speciate
    >>> from formulate.stoichiometry.solution import solution
    >>> net = speciate(solution({"K": 1.0, "P": 1.0}), ph=5.0).net
    >>> [net.species[place].name for place in places_of(net, "phosphate")]
    ['PO4-3', 'HPO4-2', 'H2PO4-', 'H3PO4', 'KHPO4-']
    """
    forms = (*net.cations, *net.ligands, *net.inert)
    if form not in forms:
        return ()
    place = forms.index(form)
    found = [2 + place]
    if place < len(net.cations):
        found += [net.first_row + row for row in net.alone_cation[place]]
        found += [
            net.first_row + r for i, _, _, its in net.pairs if i == place for r in its
        ]
        return tuple(found)
    place -= len(net.cations)
    if place >= len(net.ligands):
        return tuple(found)
    found += [net.first_row + row for row in net.alone_ligand[place]]
    for _, j, count, its in net.pairs:
        found += [net.first_row + r for r in its if j == place] * count
    return tuple(found)
