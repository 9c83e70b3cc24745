"""What an exported studio takes along from the studio app, and its spreadsheet lists."""

from studio import cutting_sheet, label_papers, registration_papers, show_list
from studio.amounts import convert, printed
from studio.models import (
    AccessHours,
    BenchHours,
    BenchTask,
    BenchTerms,
    Closure,
    CurrencyChange,
    CuttingTerms,
    DaysAway,
    Delivery,
    Document,
    Export,
    Glass,
    HistoryEntry,
    Invitation,
    Job,
    Kiln,
    KilnUser,
    Layer,
    Material,
    Membership,
    Message,
    MessageWishes,
    Pass,
    Person,
    Phone,
    Picture,
    Piece,
    PieceEvent,
    PieceMove,
    PieceRecord,
    Reservation,
    Sheet,
    StockMove,
    StockSheet,
    StoppedAddress,
    Studio,
    TaskTime,
)
from studio.selectors.kinds import (
    Keys,
    carry,
    leave,
    name_paper,
    name_subjects,
    paper_model,
    subject_model,
)
from studio.selectors.lists import (
    Column,
    add_table,
    length,
    plain,
    price_per_area,
    several,
    temperature,
)
from studio.selectors.pieces import pieces, view_pieces


def mend_subject(entry: HistoryEntry, keys: Keys) -> bool:
    """Point a line of history at the new record, or at nothing if that is gone."""
    word, _, key = entry.subject.rpartition(" ")
    model = subject_model(word)
    if key.isascii() and key.isdigit():
        new = keys[model._meta.label_lower].get(int(key)) if model else None
        entry.subject = f"{word} {new}" if new else ""
    return True


def mend_cause(move: StockMove, keys: Keys) -> bool:
    """Point a movement at the new record it follows from, so that it is given back."""
    word, _, key = move.cause.rpartition(" ")
    model = subject_model(word)
    if key.isascii() and key.isdigit() and model is not None:
        new = keys[model._meta.label_lower].get(int(key))
        move.cause = f"{word} {new}" if new else ""
    return True


def mend_paper(document: Document, keys: Keys) -> bool:
    """Point a paper at the new record; one without a subject is made again if wanted."""
    is_known, model = paper_model(document.kind)
    if model is not None:
        new = keys[model._meta.label_lower].get(document.subject_id)
        if new is None:
            return False
        document.subject_id = new
    return is_known


carry(
    Studio,
    "name address email currency time_zone temperature_unit length_unit paper_size "
    "created_at",
    left={
        "is_demo": "an imported studio is somebody's own",
        "delete_at": "an imported studio stays until its owner asks again",
    },
)
carry(
    Person,
    "email name is_active date_joined",
    left={
        "password": "everybody sets a new one by a link",
        "last_login": "nobody has signed in yet",
        "email_confirmed_at": "an archive shows nobody's address to be theirs",
        "home": "its person chooses where they have several studios",
        "is_superuser": "no archive gives rights over a server",
        "is_staff": "no archive gives rights over a server",
        "groups": "no archive gives rights over a server",
        "user_permissions": "no archive gives rights over a server",
    },
)
carry(Membership, "person role temperature_unit length_unit is_active")
carry(
    Kiln,
    "name inner_width_mm inner_depth_mm inner_height_mm shelf_width_mm shelf_depth_mm "
    "max_temperature_c opening_temperature_c power_w holding_fraction "
    "cooling_time_constant_s offset_k offset_uncertainty_k offset_found_on offset_how "
    "controller_unit controller_segments rate_step slowest_rate_c_per_h "
    "fastest_rate_c_per_h hourly_rate member_rate guest_rate is_retired",
)
carry(KilnUser, "name terms free_hours person is_retired")
carry(AccessHours, "weekday opens closes")
carry(
    CurrencyChange,
    "before after rate made_at made_by taken_back_at",
    left={"prices": "prices by old keys; after a move the change is not taken back"},
)
carry(Closure, "kiln starts_at ends_at reason")
carry(BenchHours, "membership weekday starts ends")
carry(
    BenchTerms,
    "membership hours_a_week has_own_skills can_paint can_assemble can_coldwork",
)
carry(DaysAway, "membership starts_date ends_date reason note")
carry(
    Glass,
    "name family sheet_thickness_mm density_kg_m3 anneal_soak_c annealing_point_c "
    "strain_point_c expansion_1e7_per_k full_fuse_c enamel_c cost_per_m2 is_retired",
)
carry(
    Material,
    "name kind unit cost_per_unit used_per amount_used on_hand low_at caution is_retired",
)
carry(
    BenchTask,
    "key name number step minutes counted minutes_each area minutes_per_m2 is_once tax",
)
carry(
    Piece,
    "title width_mm height_mm glass is_dammed maker maquette_of note face created_at "
    "due_date stopped_at stopped_reason remake_of",
)
carry(
    PieceEvent,
    "piece kind at by note measured_height_mm outcome firing_kind taken_back_at "
    "taken_back_by taken_back_reason",
)
carry(
    PieceRecord,
    "piece edition width_mm height_mm thickness_mm weight_kg cold_work seen seen_nm_cm "
    "seen_picture hanging care value changed_at",
)
carry(
    PieceMove,
    "piece kind place day back_on note at by taken_back_at taken_back_by "
    "taken_back_reason",
)
carry(Layer, "piece number technique glass planned_passes title taken_out_at")
carry(StockSheet, "glass width_mm height_mm batch is_offcut on_hand")
carry(
    StockMove,
    "material stock_sheet glass kind amount unit unit_cost why cause piece at by "
    "taken_back_at taken_back_by taken_back_reason",
    mend=mend_cause,
    mended="cause",
)
carry(Reservation, "piece glass material amount unit made_at")
carry(CuttingTerms, "kerf_mm grinding_mm smallest_offcut_mm")
carry(Sheet, "layer attempt made_at set_aside_at set_aside_reason cut_from")
carry(
    Pass,
    "sheet number is_repeat painted_at painted_by minutes materials note fired_at "
    "outcome outcome_by outcome_note",
)
carry(
    TaskTime,
    "piece task task_name person started_at ended_at minutes day note passes recorded_at "
    "recorded_by taken_back_at taken_back_by taken_back_reason",
)
carry(
    Picture,
    "piece layer of_pass image thumbnail depth width_px height_px caption at by "
    "is_shown_to_client",
    left={"shot": "what was taken in once is not sent again after a move"},
)
carry(
    HistoryEntry,
    "at by what piece subject is_about_money",
    mend=mend_subject,
    mended="subject",
)
carry(
    Document,
    "kind subject_id title inputs_sha256 pdf_sha256 file made_at",
    mend=mend_paper,
    mended="subject_id",
)
carry(
    MessageWishes,
    "person mail phone quiet_from quiet_to is_woken morning_at",
)
carry(StoppedAddress, "address at")
leave(Message, "what people were told; a new studio tells what happens there")
leave(Phone, "a phone asks the server itself for messages")
leave(Delivery, "letters that were sent, or wait here to be")
leave(Job, "orders of work for one server's worker; what they made is carried")
leave(Invitation, "its link opens nothing on another server")
leave(Export, "archives of the studio: this is one")

name_subjects(
    membership=Membership,
    kiln=Kiln,
    stockmove=StockMove,
    of_pass=Pass,
    fired_pass=Pass,
    event=PieceEvent,
)

name_paper(cutting_sheet.KIND, Glass)
name_paper(label_papers.KIND, Piece)
name_paper(registration_papers.KIND, Piece)
name_paper(show_list.KIND, None)

add_table(
    "pieces",
    lambda studio: view_pieces(pieces(studio)),
    plain("Piece", "piece.title"),
    plain("Stage", "stage_words"),
    length("Width", "piece.width_mm"),
    length("Height", "piece.height_mm"),
    length("Thickness", "height_mm"),
    plain("Glass", "piece.glass"),
    plain("Maker", "piece.maker"),
    plain("Maquette of", "piece.maquette_of"),
    plain("Entered", "piece.created_at"),
    plain("Note", "piece.note"),
)
add_table(
    "layers",
    lambda studio: (
        Layer.owned.for_studio(studio)
        .select_related("piece", "glass")
        .order_by("piece__title", "piece", "number")
    ),
    plain("Piece", "piece.title"),
    plain("Layer", "number"),
    plain("Title", "title"),
    plain("Technique", "get_technique_display"),
    plain("Glass", "glass"),
    plain("Passes planned", "planned_passes"),
)
add_table(
    "passes",
    lambda studio: (
        Pass.owned.for_studio(studio)
        .select_related("sheet__layer__piece", "painted_by")
        .prefetch_related("materials")
        .order_by("sheet__layer__piece", "sheet__layer__number", "sheet", "number")
    ),
    plain("Piece", "sheet.layer.piece.title"),
    plain("Layer", "sheet.layer.number"),
    plain("Sheet", "sheet.attempt"),
    plain("Pass", "number"),
    plain("Painted", "painted_at"),
    plain("By", "painted_by"),
    plain("Minutes", "minutes"),
    several("Painted with", "materials"),
    plain("Fired", "fired_at"),
    plain("Outcome", "get_outcome_display"),
    plain("Note", "note"),
)
add_table(
    "task-times",
    lambda studio: (
        TaskTime.owned.for_studio(studio)
        .filter(taken_back_at__isnull=True)
        .select_related("piece", "person")
        .order_by("piece__title", "piece", "day", "pk")
    ),
    plain("Piece", "piece.title"),
    plain("Task", "task_name"),
    plain("By", "person"),
    plain("Day", "day"),
    plain("Minutes", "minutes"),
    plain("Started", "started_at"),
    plain("Ended", "ended_at"),
    plain("Note", "note"),
)
add_table(
    "stock-glass",
    lambda studio: Glass.owned.for_studio(studio).order_by("name", "pk"),
    plain("Glass", "name"),
    plain("Family", "get_family_display"),
    length("Thickness", "sheet_thickness_mm"),
    temperature("Anneal soak", "anneal_soak_c"),
    temperature("Annealing point", "annealing_point_c"),
    temperature("Strain point", "strain_point_c"),
    price_per_area("Cost", "cost_per_m2"),
    plain("Out of use", "is_retired"),
)
add_table(
    "stock-sheets",
    lambda studio: (
        StockSheet.owned.for_studio(studio)
        .select_related("glass")
        .order_by("glass__name", "is_offcut", "pk")
    ),
    plain("Glass", "glass"),
    length("Width", "width_mm"),
    length("Height", "height_mm"),
    plain("Batch", "batch"),
    plain("Offcut", "is_offcut"),
    plain("On the rack", "on_hand"),
)
add_table(
    "stock-moves",
    lambda studio: (
        StockMove.owned.for_studio(studio)
        .select_related("material", "glass", "stock_sheet__glass", "piece", "by")
        .order_by("pk")
    ),
    plain("When", "at"),
    plain("Of", "item"),
    plain("What", "get_kind_display"),
    plain("Amount", "amount"),
    plain("Unit", "unit"),
    plain("Cost per unit", "unit_cost"),
    plain("Why", "why"),
    plain("Piece", "piece"),
    plain("By", "by"),
    plain("Taken back", "taken_back_at"),
)
add_table(
    "stock-materials",
    lambda studio: Material.owned.for_studio(studio).order_by("name", "pk"),
    plain("Material", "name"),
    plain("Kind", "get_kind_display"),
    Column(
        heading=lambda _: "Unit",
        cell=lambda row, viewer: viewer.unit(row.unit),
    ),
    Column(
        heading=lambda _: "In stock",
        cell=lambda row, viewer: printed(
            convert(row.on_hand, row.unit, viewer.unit(row.unit))
        ),
    ),
    Column(
        heading=lambda _: "Cost per unit",
        cell=lambda row, viewer: viewer.price_per(row.cost_per_unit, row.unit),
    ),
    plain("Caution", "caution"),
    plain("Out of use", "is_retired"),
)
