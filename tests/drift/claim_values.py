"""What is told of claims: verdicts and numbers of papers, slips, products compared."""

__all__ = ["claim_values"]


def claim_values(claims):
    """Yield (quantity, value, unit) of the papers of a job and of what is compared."""
    for paper in claims.checked:
        yield f"{paper.name}: kind", paper.kind or "unread", "word"
        yield f"{paper.name}: verdict", paper.verdict, "word"
        if paper.slips:
            yield f"{paper.name}: slips", "; ".join(map(_named, paper.slips)), "word"
        for place, finding in enumerate(paper.findings, 1):
            of = f"{paper.name}: {place} {finding.subject}"
            yield of, finding.verdict, "word"
            if finding.number is not None:
                yield f"{of}: found", float(finding.number), "-"
            if finding.limit is not None:
                yield f"{of}: held against", float(finding.limit), "-"
        if paper.product is not None:
            yield from _product(paper)
    found, _ = claims.comparison_or_why
    if found is not None:
        yield from _compared(found)


def _named(slip):
    """Return which slip it is, without the numbers and the advice that follow."""
    return slip.partition(":")[0].partition(" (")[0]


def _product(paper):
    """Yield what a gram of the product of a label brings."""
    for form, amount in paper.product.forms.items():
        yield f"{paper.name}: brings {form}", amount, "mmol/g"


def _compared(found):
    for share in found.shares:
        of = f"compared: {share.key} of {share.name}"
        if share.mg_per_gram is not None:
            yield of, share.mg_per_gram, "mg/g"
        if share.gram_cost is not None:
            yield f"{of}: cost", share.gram_cost, "EUR/g"
    for feed in found.feeds:
        for product, amount in feed.parts:
            yield f"compared: dose of {product.name}", amount, product.measured_in
    for place, feed in enumerate(found.salt_feeds, 1):
        for salt, amount in feed.parts:
            of = f"compared: {place} {salt.name} in its place"
            yield of, amount, salt.measured_in
