"""From bag to plant: nutrient solutions from dissolved salts, each number with its working.

The names below are the ones to start with; everything else is reached by its module.
"""

import lazy_loader

__version__ = "0.1.0"

__getattr__, __dir__, __all__ = lazy_loader.attach(
    __name__,
    submod_attrs={
        "chemistry.acidity": ["ph_range"],
        "chemistry.conductivity": ["conductivity", "ec", "meter_reading"],
        "chemistry.dosing": ["acid_dose", "compare_acids"],
        "chemistry.expected": ["expected"],
        "chemistry.plant_safety": ["plant_safety"],
        "chemistry.precipitation": ["precipitate"],
        "chemistry.risks": ["solid_risks"],
        "chemistry.speciation": ["speciate"],
        "chemistry.waters": ["read_water", "water", "water_from_text"],
        "ingredients.dissolve": ["dissolve"],
        "ingredients.labels": ["label", "read_label"],
        "ingredients.salts": ["acid", "salt"],
        "ingredients.shelf": ["nutrient_costs", "read_shelf", "shelf"],
        "ingredients.stock": ["blend", "stock"],
        "ingredients.water_report": ["blend_waters"],
        "job_saving": ["save_job"],
        "jobs": ["read_job"],
        "mixing.best_order": ["best_order"],
        "mixing.compatibility": ["compatibility_table", "pair_verdict"],
        "mixing.meeting": ["meetings"],
        "mixing.mistakes": ["what_went_wrong"],
        "mixing.sequence": ["simulate_mixing"],
        "mixing.tanks": ["split_tanks"],
        "outcome": ["run_job"],
        "recipes.at_ec": ["at_ec"],
        "recipes.charge_targets": ["closed_by_ammonium", "target_from_ratios"],
        "recipes.cheapest": ["cheapest"],
        "recipes.few_bags": ["few_bags"],
        "recipes.practical": ["weigh"],
        "recipes.purchases": ["what_to_buy"],
        "recipes.scaling": ["scaled"],
        "recipes.solve": ["solve"],
        "recipes.swap": ["swap"],
        "recipes.target": ["published_target", "target"],
        "recipes.uncertainty": ["doubt"],
        "recipes.water_share": ["share_of_water"],
        "recipes.whole_steps": ["whole_steps"],
        "stoichiometry.formula": ["parse_formula"],
        "stoichiometry.slips": ["explain_difference"],
        "stoichiometry.mixtures": ["dilute", "mix"],
        "stoichiometry.solution": ["solution"],
        "stoichiometry.units": ["convert"],
        "workbench.bench": ["open_bench"],
    },
)
