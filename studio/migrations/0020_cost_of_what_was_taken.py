"""What was taken keeps what it cost then; until now it followed the average of today."""

from collections import defaultdict
from decimal import ROUND_HALF_UP, Decimal

from django.db import migrations

from studio.amounts import convert

TELLS_COST = {"receipt", "count", "price"}
NOTHING, PLACES = Decimal(0), Decimal("0.0001")
MM2_PER_M2 = 1_000_000


def keep_costs(apps, schema_editor):
    """Give each standing movement that tells no cost the average of its moment."""
    db = schema_editor.connection.alias
    StockMove = apps.get_model("studio", "StockMove")
    rows = StockMove._base_manager.using(db).filter(taken_back_at=None).order_by("pk")
    lists = defaultdict(list)
    for row in rows.select_related("material", "stock_sheet__glass", "glass"):
        sheet = row.stock_sheet
        owner = row.material or (sheet.glass if sheet else row.glass)
        lists[owner].append(row)
    changed = []
    for owner, moves in lists.items():
        changed += costed(owner, moves)
    StockMove._base_manager.using(db).bulk_update(
        changed, ["unit_cost"], batch_size=200
    )


def costed(owner, moves):
    """Return the movements of one material or glass that got a cost."""
    of_material = owner._meta.model_name == "material"
    units, cost, found = defaultdict(Decimal), None, []
    # Before anything told a cost, the first that did is the nearest to it.
    usual = owner.cost_per_unit if of_material else owner.cost_per_m2
    for one in moves:
        if one.kind in TELLS_COST and one.unit_cost is not None:
            unit = convert(Decimal(1), one.unit, owner.unit) if of_material else 1
            usual = one.unit_cost / unit
            break
    for one in moves:
        sheet = one.stock_sheet
        size = Decimal(1)
        if sheet is not None:
            size = Decimal(str(round(sheet.width_mm * sheet.height_mm / MM2_PER_M2, 6)))
        ratio = convert(Decimal(1), one.unit, owner.unit) if of_material else Decimal(1)
        came = one.amount * ratio * size
        if one.kind not in TELLS_COST:
            now = usual if cost is None else cost
            one.unit_cost = (now * ratio).quantize(PLACES, ROUND_HALF_UP)
            found.append(one)
        elif one.unit_cost is not None:
            told = one.unit_cost / ratio
            on_hand = sum((max(NOTHING, each) for each in units.values()), NOTHING)
            if one.kind != "receipt" or cost is None or on_hand + came <= 0:
                cost = told
            else:
                cost = (on_hand * cost + came * told) / (on_hand + came)
        key = one.stock_sheet_id
        units[key] = came if one.kind == "count" else units[key] + came
    return found


class Migration(migrations.Migration):
    dependencies = [
        ("studio", "0019_kiln_users"),
    ]

    operations = [
        migrations.RunPython(keep_costs, migrations.RunPython.noop),
    ]
