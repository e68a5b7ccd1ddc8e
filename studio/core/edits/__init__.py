"""Every change the maker can make, as a pure function from one studio to the next.

An edit that makes no sense raises `EditRefusedError` with one sentence: what was found, and what is
allowed. An edit that changes nothing returns the very same studio, and whatever an edit does not
touch stays the same object, since answers are kept by identity.
"""

from studio.core.edits.barcodes import add_barcode, set_barcodes
from studio.core.edits.library import add_stitch, add_swatch, add_yarn, set_settings, set_yarn
from studio.core.edits.parcels import drop_parcel, set_parcel
from studio.core.edits.projects import (
    accept_finding,
    add_project,
    copy_project,
    remove_project,
    set_project,
    set_rows_done,
    set_size,
)
from studio.core.edits.slots import (
    add_slot,
    map_slot,
    remove_slot,
    set_border,
    set_claim,
    set_fringe,
    set_grams,
    set_lot_rule,
)
from studio.core.edits.stash import (
    add_lot,
    put_lots,
    remove_lot,
    set_lot,
    use_balls,
    weigh_part,
)
from studio.core.edits.stripes import (
    add_stripe,
    change_rows,
    merge_stripe,
    move_stripe,
    remove_stripe,
    set_note,
    set_rows,
    set_slot,
    split_stripe,
)

__all__ = [
    "accept_finding",
    "add_barcode",
    "add_lot",
    "add_project",
    "add_slot",
    "add_stitch",
    "add_stripe",
    "add_swatch",
    "add_yarn",
    "change_rows",
    "copy_project",
    "drop_parcel",
    "map_slot",
    "merge_stripe",
    "move_stripe",
    "put_lots",
    "remove_lot",
    "remove_project",
    "remove_slot",
    "remove_stripe",
    "set_barcodes",
    "set_border",
    "set_claim",
    "set_fringe",
    "set_grams",
    "set_lot",
    "set_lot_rule",
    "set_note",
    "set_parcel",
    "set_project",
    "set_rows",
    "set_rows_done",
    "set_settings",
    "set_size",
    "set_slot",
    "set_yarn",
    "split_stripe",
    "use_balls",
    "weigh_part",
]
