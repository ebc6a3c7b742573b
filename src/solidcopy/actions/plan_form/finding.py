"""From a place in a plan's values to the field of the form that stands there, and back."""

from typing import Any

from solidcopy.actions.plan_form.description import ROOT, FormField, PlanForm, Table
from solidcopy.actions.plan_form.shapes import Shape
from solidcopy.trials.faults import Place


def value_at(values: Any, place: Place) -> Any:
    """What stands at a place; None if nothing does."""
    for step in place:
        try:
            values = values[step]
        except (LookupError, TypeError):
            return None
    return values


def tables_at(values: Any, place: Place) -> list[dict[str, Any]]:
    """The tables in the list at a place; none if no list stands there."""
    found = value_at(values, place)
    return [one for one in found if isinstance(one, dict)] if isinstance(found, list) else []


def table_of(form: PlanForm, shape: Shape | None, value: Any) -> Table | None:
    """The table that a value is, or could be: the only one, or that of its `kind`."""
    tables = [form.tables[name] for name in (shape.tables if shape else ())]
    if len(tables) == 1:
        return tables[0] if value is None or isinstance(value, dict) else None
    kind = value_at(value, ("kind",))
    return next((table for table in tables if table.kind == kind), None)


def table_at(form: PlanForm, values: Any, place: Place) -> Table | None:
    """The table at a place; None for a place that is no table of the form."""
    table: Table | None = form.tables[ROOT]
    field: FormField | None = None
    for depth, step in enumerate(place, 1):
        if isinstance(step, str):
            field = table.field(step) if table is not None else None
        if table is None or field is None:
            return None
        value = value_at(values, place[:depth])
        if not isinstance(value, list):
            table = table_of(form, shape_holding_tables(field), value)
    return table


def field_at(form: PlanForm, values: Any, place: Place) -> FormField | None:
    """The field at a place, there or not; of an item of a list, the list's."""
    while place and isinstance(place[-1], int):
        place = place[:-1]
    if not place:
        return None
    table = table_at(form, values, place[:-1])
    return table.field(str(place[-1])) if table is not None else None


def kinds_of(form: PlanForm, field: FormField) -> set[str]:
    """Kinds of the tables that a field may hold; the name of one that has no kind."""
    shape = shape_holding_tables(field)
    return {form.tables[name].kind or name for name in (shape.tables if shape else ())}


def shape_holding_tables(field: FormField) -> Shape | None:
    """The shape of a field that holds tables, if it has one."""
    return next((shape for shape in field.shapes if shape.tables), None)


def shape_of(field: FormField, form_name: str) -> Shape | None:
    """The shape of a field that has that form."""
    return next((shape for shape in field.shapes if shape.form == form_name), None)
