"""Loads the whole demo or nothing, with any instant as the present."""

import datetime as dt

from django.db import transaction

from commissions.demo import shared_kilns, stock, works, workshops
from studio.models import Studio


@transaction.atomic
def load(*, now: dt.datetime, seed: int) -> bool:
    """Make both studios and their work; return whether there was anything to do."""
    if Studio.objects.filter(is_demo=True).exists():
        return False
    estuary = workshops.estuary(at=now - workshops.PRESENT)
    stock.stock_up(estuary, at=now - workshops.PRESENT)
    works.spring_tide(estuary, now=now, seed=seed)
    works.groyne(estuary, now=now, seed=seed)
    works.mud_flats(estuary, now=now, seed=seed)
    works.reed_edge(estuary, now=now, seed=seed)
    works.herring_fleet(estuary, now=now)
    works.maintenance(estuary, now=now)
    stock.last_cut(estuary, now=now)
    shared_kilns.share_the_kilns(estuary, now=now)
    works.plan_the_kilns(estuary, now=now)
    saltpan = workshops.saltpan(at=now - 60 * works.DAY)
    works.salt_pans(saltpan, now=now, seed=seed)
    works.decals_sold(saltpan, now=now)
    return True
