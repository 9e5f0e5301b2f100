"""JSON Schema (2020-12) of the machine forms of this floor. More fields may come; those listed stay."""

from __future__ import annotations

from typing import Any

Schema = dict[str, Any]
DIALECT = "https://json-schema.org/draft/2020-12/schema"

TEXT: Schema = {"type": "string"}
TEXTS: Schema = {"type": "array", "items": TEXT}
COUNT: Schema = {"type": "integer", "minimum": 0}
YES_NO: Schema = {"type": "boolean"}
DAY: Schema = {"type": "string", "pattern": r"^\d{4}-\d{2}-\d{2}$"}
NO_DAY: Schema = {"anyOf": [DAY, {"type": "null"}]}
NUMBER: Schema = {"type": ["number", "null"]}
MAYBE_TEXT: Schema = {"type": ["string", "null"]}


def record(**fields: Schema) -> Schema:
    """An object that has all of these fields, and may have more."""
    return {"type": "object", "properties": fields, "required": list(fields)}


def many(item: Schema) -> Schema:
    return {"type": "array", "items": item}


def by_name(item: Schema) -> Schema:
    return {"type": "object", "additionalProperties": item}


AMOUNT = record(value=NUMBER, unit=TEXT) | {"properties": {"value": NUMBER, "unit": TEXT, "assumed": YES_NO}}
WINDOW = {"earliest": NO_DAY, "likely": NO_DAY, "latest": NO_DAY}
NEED = record(text=TEXT, met={"enum": ["yes", "no", "unknown"]}, evidence=TEXTS)
PHASE = record(id=TEXT, title=TEXT, state={"enum": ["done", "open", "ahead", "on_hold"]}, started=NO_DAY, **WINDOW, reason=TEXT, needs=many(NEED))
TASK = record(
    id={"type": "string", "pattern": r"^[a-z0-9-]+/[a-z0-9-]+(#[0-9]+)?$"}, occurrence={"type": "integer", "minimum": 1}, phase=TEXT, title=TEXT, due=NO_DAY,
    date=NO_DAY, time={"type": "string", "pattern": r"^(\d{2}:\d{2})?$"}, earliest=NO_DAY, latest=NO_DAY,
    state={"enum": ["done", "due", "late", "planned", "waiting", "skipped", "on_hold"]}, tentative=YES_NO, amounts=by_name(AMOUNT), steps=TEXTS,
    cautions=TEXTS, because=TEXTS, house=TEXT, yielded=many(record(way=TEXT, rule=TEXT, to=TEXT, until=NO_DAY, text=TEXT)))
HOLD = record(gate=TEXT, since=DAY, because=TEXT, instead=TEXTS)
WAITING = record(gate=TEXT, needs=many(NEED))
PROBLEM = record(file=TEXT, line=COUNT, column=COUNT, code=TEXT, message=TEXT, fix=TEXT)
TANK = record(name=TEXT, net_volume_l=NUMBER, gross_volume_l=NUMBER)
CAUTION = record(title=TEXT, text=TEXT, defer=TEXT)
MOVED = record(id=TEXT, **{"from": NO_DAY, "to": NO_DAY}, because=TEXT)
ROW = record(when=TEXT, kind=TEXT, what=TEXT, value=TEXT, unit=TEXT, where=TEXT, note=TEXT)
BAND = record(p10=NUMBER, p50=NUMBER, p90=NUMBER)
FORECAST = record(events=by_name(record(**WINDOW)), curve=many(record(date=DAY, ammonia=BAND, nitrite=BAND, nitrate=BAND)), readings_used=COUNT, members=COUNT)
FIGURE = record(name=TEXT, value={"type": "number"}, unit=TEXT, grade={"enum": ["measured", "standard", "review", "practice"]}, source=MAYBE_TEXT, where=TEXT)
HOUSE = record(id=TEXT, change={"enum": ["added", "changed"]}, rule=TEXT, now=TEXT, was=TEXT, shipped=TEXT)
TRACE: Schema = {"$defs": {"trace": record(text=TEXT, answer={"enum": ["yes", "no", "unknown"]}, evidence=TEXTS, rows=many(ROW), parts=many({"$ref": "#/$defs/trace"}))},
                 "$ref": "#/$defs/trace"}
GOOD = record(item=TEXT, name=TEXT, quantity=AMOUNT, phase=TEXT, needed=NO_DAY, provisional=YES_NO, note=TEXT, unknown=TEXT, described=YES_NO, cost=NUMBER)
SIDE = record(
    mark=TEXT, folder=TEXT, name=TEXT, on=DAY, gross_volume_l=NUMBER, net_volume_l=NUMBER, milestones=by_name(record(**WINDOW)), amounts=by_name(AMOUNT),
    tests=COUNT, readings=COUNT, water_changes=COUNT, hours=NUMBER, counted_until=NO_DAY, cost=NUMBER, cost_described=NUMBER, without_cost=TEXTS, left_out=TEXTS,
    shopping=many(GOOD))
CONTRAST = record(
    tank=TEXT, against=TEXT, first_animal_days={"type": ["integer", "null"]}, sum_of_causes_days={"type": ["integer", "null"]},
    causes=many(record(keys=TEXTS, unsaid_by=MAYBE_TEXT, days=by_name({"type": ["integer", "null"]}))), sentences=TEXTS)

ANIMALS = many(record(id=TEXT, count={"type": "integer", "minimum": 1}))
FREE_AMMONIA: Schema = {"anyOf": [record(p10={"type": "number"}, p50={"type": "number"}, p90={"type": "number"}), {"type": "null"}]}
STAGE = record(
    likely=DAY, earliest=NO_DAY, animals=ANIMALS, nitrogen_mg_per_day={"type": "number", "minimum": 0}, free_ammonia_mg_l=FREE_AMMONIA,
    ration={"type": "number", "exclusiveMinimum": 0, "maximum": 1}, quarantine_from=NO_DAY, because=TEXTS)
STOCK = record(
    on=DAY, animals=many(record(id=TEXT, name=TEXT, count={"type": "integer", "minimum": 1}, verdict={"enum": ["fits", "with_conditions", "refused"]}, reasons=TEXTS)),
    unclear=many(record(written=TEXT, candidates=TEXTS)), conflicts=many(record(between=TEXTS, why=TEXT)), keep=ANIMALS,
    left_out=many(record(id=TEXT, count=COUNT, why=TEXT, smallest_change=MAYBE_TEXT, instead=TEXTS)), stages=many(STAGE),
    not_placed=many(record(id=TEXT, count=COUNT, because=TEXT)), provisional=YES_NO)

SCHEMAS: dict[str, Schema] = {
    "plan": record(on=DAY, tank=TANK, quantities=by_name(AMOUNT), phases=many(PHASE), tasks=many(TASK), holds=many(HOLD), waiting_for=many(WAITING),
                   problems=many(PROBLEM), cautions=by_name(CAUTION)),
    "today": record(on=DAY, late=many(TASK), due=many(TASK), next=many(TASK), waiting_for=many(WAITING), holds=many(HOLD), problems=many(PROBLEM)),
    "written": record(written=many(ROW), moved=many(MOVED)),
    "forecast": FORECAST,
    "use": record(
        on=DAY, uses=many(record(name=TEXT, said={"enum": ["not_known", "about", "known", "none", "adds"]}, unit=TEXT, use=NUMBER, low=NUMBER, high=NUMBER, readings=COUNT, doses=COUNT, changes=COUNT,
                                 missing=many(record(what=TEXT, have={"type": "number"}, want={"type": "number"}, line={"type": ["integer", "null"]})))),
        water_changes=record(share_a_week=NUMBER, hold_dkh_a_day=NUMBER, trough_dkh=NUMBER),
        dose=record(state={"enum": ["not_known", "nothing_used", "changes_hold", "lift_first", "stopped", "dose"]}, dkh_a_day=NUMBER, bicarbonate_g=NUMBER, stops=TEXTS)),
    "supplies": record(on=DAY, supplies=many(record(id=TEXT, unit={"enum": ["g", "L", "tests"]}, bought=NUMBER, used=NUMBER, left=NUMBER, reserve=NUMBER, per_week=NUMBER, order_by=NO_DAY, good_until=NO_DAY))),
    "away": record(on=DAY, to=DAY, nights=COUNT, alone_nights=COUNT, visits={"enum": ["none", "every_second_day", "daily"]},
                   limits=many(record(why=TEXT, nights=COUNT, text=TEXT)), before=many(record(date=DAY, days_before=COUNT, text=TEXT)), **{"from": DAY, "return": TEXTS}),
    "stock": STOCK,
    "why": {**record(id=TEXT, title=TEXT, rule=TEXT, because=TEXTS, numbers=many(FIGURE), house=many(HOUSE), trace={"anyOf": [{"$ref": "#/$defs/trace"}, {"type": "null"}]}),
            "$defs": TRACE["$defs"]},
    "readings": record(on=DAY, readings=many(record(name=TEXT, where=TEXT, unit=TEXT, limits=TEXTS, trend=TEXT, rows=many(ROW)))),
    "mix": record(result=by_name(AMOUNT), inputs={"type": "object"}, formula=TEXT, source=TEXT),
    "rules": record(phases=many(record(id=TEXT, title=TEXT)), numbers=many(FIGURE), together=many(record(id=TEXT, first=TEXTS, yields=TEXTS, how=TEXT, text=TEXT, rule=TEXT)), house=many(HOUSE), sources=by_name({"type": "object"}), problems=many(PROBLEM)),
    "handouts": record(out=TEXT, folders=COUNT, finished=YES_NO, problems=many(PROBLEM), leftovers=TEXTS, tanks=many(record(
        folder=TEXT, out=TEXT, name=TEXT, id=MAYBE_TEXT, first_animal=NO_DAY, animals_in=YES_NO, files=by_name({"enum": ["written", "unchanged", "refused"]}),
        problems=many(PROBLEM), warnings=TEXTS, bug=TEXT))),
    "compare": record(
        on=DAY, sizes_differ=YES_NO, currency=MAYBE_TEXT, tanks=many(SIDE), contrasts=many(CONTRAST), formulas=by_name(TEXT), problems=many(PROBLEM)),
    "calendar": record(file=MAYBE_TEXT, feeds=many(record(file=TEXT, written=YES_NO)), entries=COUNT, changes=many(record(id=TEXT, title=TEXT, what=TEXT, **{"from": NO_DAY, "to": NO_DAY}))),
}


def schema_of(command: str) -> Schema:
    """The schema of what `newtank COMMAND --json` prints; `written` stands for log, done and note."""
    return {"$schema": DIALECT, "title": f"newtank {command} --json", **SCHEMAS[command]}
