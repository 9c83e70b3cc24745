"""Addresses: the studio's own, then those of the higher apps, named by string."""

from django.urls import URLPattern, URLResolver, include, path

from studio.views import (
    access,
    bench,
    currency,
    cutting,
    finished,
    forgotten,
    health,
    home_screen,
    invitations,
    joining,
    kilns,
    layers,
    messages,
    painting,
    people,
    pictures,
    piece_papers,
    pieces,
    search,
    second_step,
    settings,
    signing_in,
    stack_order,
    steps,
    stock,
    stock_moves,
    styleguide,
    task_times,
    today,
    yours,
)

piece_patterns = [
    path("", pieces.piece_list, name="piece_list"),
    path("new/", pieces.piece_new, name="piece_new"),
    path("finished/", finished.work_list, name="work_list"),
    path("finished/move/", finished.work_move, name="work_move"),
    path("finished/list/", finished.work_paper, name="work_paper"),
    path("<int:pk>/moves/", finished.piece_moves, name="piece_moves"),
    path("moves/<int:pk>/take-back/", finished.move_take_back, name="move_take_back"),
    path("<int:pk>/", pieces.piece_detail, name="piece_detail"),
    path("<int:pk>/edit/", pieces.piece_edit, name="piece_edit"),
    path("<int:pk>/labels/", piece_papers.piece_labels, name="piece_labels"),
    path(
        "<int:pk>/registration/",
        piece_papers.piece_registration,
        name="piece_registration",
    ),
    path("<int:pk>/paint/", painting.piece_paint, name="piece_paint"),
    path(
        "<int:pk>/paint/take-back/",
        painting.painting_take_back,
        name="painting_take_back",
    ),
    path("<int:pk>/stack/", steps.stack_check, name="stack_check"),
    path("<int:pk>/finish/", steps.piece_finish, name="piece_finish"),
    path("<int:pk>/lost/", steps.piece_lost, name="piece_lost"),
    path("<int:pk>/timer/", task_times.timer_start, name="timer_start"),
    path("<int:pk>/times/", task_times.time_list, name="time_list"),
    path("<int:pk>/times/new/", task_times.time_new, name="time_new"),
    path("<int:pk>/face/", pictures.piece_face, name="piece_face"),
    path("<int:pk>/pictures/", pictures.picture_add, name="picture_add"),
    path("<int:pk>/layers/add/", stack_order.layer_add, name="layer_add"),
    path("<int:pk>/layers/<int:number>/", layers.layer_detail, name="layer_detail"),
    path(
        "<int:pk>/layers/<int:number>/again/",
        layers.layer_make_again,
        name="layer_make_again",
    ),
    path(
        "<int:pk>/layers/<int:number>/out/",
        stack_order.layer_take_out,
        name="layer_take_out",
    ),
    path(
        "<int:pk>/layers/<int:number>/place/",
        stack_order.layer_move,
        name="layer_move",
    ),
    path("<int:pk>/layers/<int:number>/pass/", stack_order.pass_add, name="pass_add"),
    path(
        "<int:pk>/layers/<int:number>/pass/out/",
        stack_order.pass_take_out,
        name="pass_take_out",
    ),
    path(
        "<int:pk>/layers/<int:number>/again/take-back/",
        layers.layer_again_take_back,
        name="layer_again_take_back",
    ),
    path(
        "<int:pk>/layers/<int:number>/title/",
        layers.layer_rename,
        name="layer_rename",
    ),
    path(
        "<int:pk>/layers/<int:number>/pictures/",
        pictures.picture_add,
        name="layer_picture_add",
    ),
]

picture_patterns = [
    path("", pictures.picture_detail, name="picture_detail"),
    path("caption/", pictures.picture_caption, name="picture_caption"),
    path("show/", pictures.picture_show, name="picture_show"),
    path("remove/", pictures.picture_remove, name="picture_remove"),
    path("<str:size>/", pictures.picture, name="picture"),
]

time_patterns = [
    path("", task_times.time_correct, name="time_correct"),
    path("stop/", task_times.timer_stop, name="timer_stop"),
    path("resume/", task_times.timer_resume, name="timer_resume"),
    path("take-back/", task_times.time_take_back, name="time_take_back"),
    path("put-back/", task_times.time_put_back, name="time_put_back"),
]

stock_patterns = [
    path("", stock.stock, name="stock"),
    path("glass/new/", stock.glass_new, name="glass_new"),
    path("glass/<int:pk>/", stock.glass_edit, name="glass_edit"),
    path("materials/new/", stock.material_new, name="material_new"),
    path("materials/<int:pk>/", stock.material_edit, name="material_edit"),
    path("count/", stock_moves.stock_count, name="stock_count"),
    path("moves/", stock_moves.stock_moves, name="stock_moves"),
    path(
        "moves/<int:pk>/take-back/",
        stock_moves.stock_move_take_back,
        name="stock_move_take_back",
    ),
    path("shopping/", stock_moves.stock_shopping, name="stock_shopping"),
    path(
        "materials/<int:pk>/receive/",
        stock_moves.material_receive,
        name="material_receive",
    ),
    path(
        "materials/<int:pk>/correct/",
        stock_moves.material_correct,
        name="material_correct",
    ),
    path(
        "sheets/<int:pk>/correct/",
        stock_moves.stock_sheet_correct,
        name="stock_sheet_correct",
    ),
    path("cutting/", cutting.stock_cutting_terms, name="stock_cutting_terms"),
    path("glass/<int:pk>/receive/", stock_moves.glass_receive, name="glass_receive"),
    path("glass/<int:pk>/cutting/", cutting.glass_cutting, name="glass_cutting"),
    path("glass/<int:pk>/cutting/cut/", cutting.glass_cut, name="glass_cut"),
    path(
        "glass/<int:pk>/cutting/sheet/",
        cutting.glass_cutting_sheet,
        name="glass_cutting_sheet",
    ),
]

settings_patterns = [
    path("", settings.settings, name="settings"),
    path("units/", settings.my_units, name="my_units"),
    path("my-hours/", bench.my_hours, name="my_hours"),
    path("studio/", settings.studio_edit, name="studio_edit"),
    path("currency/", currency.currency_edit, name="currency_edit"),
    path("currency/take-back/", currency.currency_take_back, name="currency_take_back"),
    path("yours/", yours.yours, name="yours"),
    path("yours/archive/", yours.export_make, name="export_make"),
    path("yours/archive/state/", yours.export_state, name="export_state"),
    path("yours/archive/download/", yours.export_download, name="export_download"),
    path("yours/delete/", yours.studio_delete, name="studio_delete"),
    path("yours/keep/", yours.studio_keep, name="studio_keep"),
    path("yours/remove-demo/", yours.demo_remove, name="demo_remove"),
    path("password/", access.password_change, name="password_change"),
    path("signing-in/", signing_in.signing_in, name="signing_in"),
    path("signing-in/devices/<int:pk>/end/", signing_in.device_end, name="device_end"),
    path(
        "signing-in/devices/end-others/",
        signing_in.devices_end_others,
        name="devices_end_others",
    ),
    path("signing-in/second-step/", second_step.second_step, name="second_step"),
    path(
        "signing-in/second-step/confirm/",
        second_step.second_step_confirm,
        name="second_step_confirm",
    ),
    path(
        "signing-in/second-step/off/",
        second_step.second_step_off,
        name="second_step_off",
    ),
    path(
        "signing-in/recovery-codes/",
        second_step.recovery_codes_new,
        name="recovery_codes_new",
    ),
    path("switch/", access.studio_switch, name="studio_switch"),
    path("home/", joining.studio_home, name="studio_home"),
    path("people/invite/", invitations.invitation_new, name="invitation_new"),
    path(
        "people/invitations/<int:pk>/link/",
        invitations.invitation_renew,
        name="invitation_renew",
    ),
    path(
        "people/invitations/<int:pk>/withdraw/",
        invitations.invitation_withdraw,
        name="invitation_withdraw",
    ),
    path("people/<int:pk>/", people.member_edit, name="member_edit"),
    path("people/<int:pk>/password/", people.member_password, name="member_password"),
    path("people/<int:pk>/hours/", bench.member_hours, name="member_hours"),
    path("kilns/new/", kilns.kiln_new, name="kiln_new"),
    path("kilns/<int:pk>/", kilns.kiln_edit, name="kiln_edit"),
    path("hours/add/", kilns.access_add, name="access_add"),
    path("hours/<int:pk>/remove/", kilns.access_remove, name="access_remove"),
    path("closures/add/", kilns.closure_add, name="closure_add"),
    path("closures/<int:pk>/remove/", kilns.closure_remove, name="closure_remove"),
]

message_patterns = [
    path("", messages.message_list, name="message_list"),
    path("wishes/", messages.message_wishes, name="message_wishes"),
    path("phones/add/", messages.phone_add, name="phone_add"),
    path("phones/<int:pk>/remove/", messages.phone_remove, name="phone_remove"),
    path("sent/<int:pk>/again/", messages.delivery_again, name="delivery_again"),
    path("letters/<str:name>/", messages.letter_file, name="letter_file"),
    path("letters/stop/<str:token>/", messages.letters_stop, name="letters_stop"),
    path("stop/<str:token>/", messages.message_stop, name="message_stop"),
]

invitation_patterns = [
    path("", joining.invitation, name="invitation"),
    path("join/", joining.invitation_join, name="invitation_join"),
    path("accept/", joining.invitation_accept, name="invitation_accept"),
    path("decline/", joining.invitation_decline, name="invitation_decline"),
    path("<str:token>/", joining.invitation_link, name="invitation_link"),
]

studio_patterns: tuple[list[URLPattern | URLResolver], str] = (
    [
        path("healthz", health.process_up, name="process_up"),
        path("readyz", health.ready, name="ready"),
        path("sign-in/", access.sign_in, name="sign_in"),
        path("sign-in/code/", access.sign_in_code, name="sign_in_code"),
        path("sign-out/", access.sign_out, name="sign_out"),
        path(
            "password/new/<uidb64>/<token>/", access.password_set, name="password_set"
        ),
        path(
            "password/forgotten/",
            forgotten.password_forgotten,
            name="password_forgotten",
        ),
        path("invitation/", include(invitation_patterns)),
        path("", today.today, name="today"),
        path("pieces/", include(piece_patterns)),
        path(
            "events/<int:pk>/take-back/", steps.event_take_back, name="event_take_back"
        ),
        path(
            "passes/<int:pk>/take-back/", layers.pass_take_back, name="pass_take_back"
        ),
        path("passes/<int:pk>/shot/", painting.pass_shot, name="pass_shot"),
        path(
            "layers/<int:pk>/put-back/",
            stack_order.layer_put_back,
            name="layer_put_back",
        ),
        path("pictures/<int:pk>/", include(picture_patterns)),
        path("times/<int:pk>/", include(time_patterns)),
        path("stock/", include(stock_patterns)),
        path("settings/", include(settings_patterns)),
        path("manifest.webmanifest", home_screen.manifest, name="manifest"),
        path("worker.js", home_screen.worker_script, name="worker_script"),
        path("offline/", home_screen.offline, name="offline"),
        path("offline/token/", home_screen.offline_token, name="offline_token"),
        path("messages/", include(message_patterns)),
        path("search/", search.search, name="search"),
        path("history/", settings.history, name="history"),
        path("styleguide/", styleguide.styleguide, name="styleguide"),
    ],
    "studio",
)

urlpatterns = [
    path("", include(studio_patterns)),
    path("", include("firing.urls")),
    path("", include("commissions.urls")),
]

handler400 = "studio.views.errors.bad_request"
handler403 = "studio.views.errors.forbidden"
handler404 = "studio.views.errors.not_found"
handler500 = "studio.views.errors.server_error"
