from django.urls import URLPattern, URLResolver, path

from inventory.views import care, charts, figures, importing, inspecting, labels, locks, playing, register, setup, tags

app_name = "inventory"

walk_urls: list[URLPattern | URLResolver] = [
    path("walk/<int:pk>/", inspecting.WalkView.as_view(), name="walk"),
    path("walk/<int:pk>/part/<slug:part>/", inspecting.WalkPartView.as_view(), name="walk-part"),
    path("walk/<int:pk>/safety/", inspecting.SafetyView.as_view(), name="walk-safety"),
    path("walk/<int:pk>/fine/", inspecting.FineView.as_view(), name="walk-fine"),
    path("walk/<int:pk>/rest-fine/", inspecting.RestFineView.as_view(), name="walk-rest-fine"),
    path("walk/<int:pk>/finding/", inspecting.FindingView.as_view(), name="walk-finding"),
    path("walk/<int:pk>/finding/take-back/", inspecting.RemoveFindingView.as_view(), name="walk-take-back"),
    path("walk/<int:pk>/accessories/", inspecting.CountView.as_view(), name="walk-accessories"),
    path("walk/<int:pk>/photo/", inspecting.WalkPhotoView.as_view(), name="walk-photo"),
    path("walk/<int:pk>/finish/", inspecting.FinishView.as_view(), name="walk-finish"),
    path("walk/<int:pk>/drop/", inspecting.DropView.as_view(), name="walk-drop"),
    path("photos/<int:pk>/<str:size>.jpg", care.PhotoView.as_view(), name="photo"),
    path("play-tests/<int:pk>/", playing.PlayTestResultView.as_view(), name="play-test-result"),
    path("charts/", charts.ChartsView.as_view(), name="charts"),
    path("charts/<slug:code>/", charts.ChartView.as_view(), name="chart"),
    path("charts/<slug:code>/confirm/", charts.ConfirmChartView.as_view(), name="confirm-chart"),
    path("charts/<slug:code>/withdraw/", charts.WithdrawChartView.as_view(), name="withdraw-chart"),
    path("reports/", care.ReportsView.as_view(), name="reports"),
    path("reports/<int:pk>/confirm/", care.ConfirmReportView.as_view(), name="confirm-report"),
    path("reports/<int:pk>/answer/", care.AnswerReportView.as_view(), name="answer-report"),
    path("<str:asset_number>/inspect/", inspecting.InspectView.as_view(), name="inspect"),
    path("<str:asset_number>/play-test/", playing.PlayTestView.as_view(), name="play-test"),
    path("<str:asset_number>/trend/", playing.TrendView.as_view(), name="trend"),
    path("<str:asset_number>/hygiene/", care.HygieneView.as_view(), name="hygiene"),
    path("<str:asset_number>/accessories/", care.AccessoriesView.as_view(), name="accessories"),
    path("<str:asset_number>/whereabouts/", care.WhereaboutsView.as_view(), name="whereabouts"),
    path("<str:asset_number>/photos/", care.PhotosView.as_view(), name="photos"),
]

register_urls: list[URLPattern | URLResolver] = [
    path("", register.RegisterView.as_view(), name="list"),
    path("export.<str:form>", register.ExportView.as_view(), name="export"),
    path("add/", register.AddView.as_view(), name="add"),
    path("add/kind/", register.KindView.as_view(), name="kind"),
    path("labels/", labels.LabelsView.as_view(), name="labels"),
    path("settings/", setup.SettingsView.as_view(), name="settings"),
    path("figures/", figures.FiguresView.as_view(), name="figures"),
    path("figures/<slug:key>/", figures.FigureView.as_view(), name="figure"),
    path("figures/<int:pk>/call-off/", figures.CallOffView.as_view(), name="call-off-figure"),
    path("schools/", setup.SchoolsView.as_view(), name="schools"),
    path("schools/<str:code>/", setup.SchoolView.as_view(), name="school"),
    path("people/", setup.PeopleView.as_view(), name="people"),
    path("people/<int:pk>/", setup.PersonView.as_view(), name="person"),
    path("people/<int:pk>/give/", setup.GiveRoleView.as_view(), name="give-role"),
    path("people/<int:pk>/take/", setup.RemoveRoleView.as_view(), name="take-role"),
    path("people/<int:pk>/password/", setup.PasswordView.as_view(), name="password"),
    path("people/<int:pk>/second-step/", setup.ResetStepView.as_view(), name="reset-step"),
    path("people/<int:pk>/sign-on/", setup.UnlinkView.as_view(), name="unlink-sign-on"),
    path("people/<int:pk>/link/", setup.MakeLinkView.as_view(), name="make-link"),
    path("people/<int:pk>/active/", setup.ActiveView.as_view(), name="active"),
    path("<str:asset_number>/edit/", register.EditView.as_view(), name="edit"),
    path("<str:asset_number>/lock/", locks.LockView.as_view(), name="lock"),
    path("<str:asset_number>/gift/", register.DonationView.as_view(), name="donation"),
    path("<str:asset_number>/tags/", tags.TagsView.as_view(), name="tags"),
    path("<str:asset_number>/tags/new/", tags.IssueTagView.as_view(), name="issue-tag"),
    path("<str:asset_number>/tags/<int:pk>/revoke/", tags.RevokeTagView.as_view(), name="revoke-tag"),
]

import_urls: list[URLPattern | URLResolver] = [
    path("import/", importing.ImportView.as_view(), name="import"),
    path("import/<int:pk>/", importing.ImportBatchView.as_view(), name="import-batch"),
    path("import/<int:pk>/columns/", importing.ImportColumnsView.as_view(), name="import-columns"),
    path("import/<int:pk>/read/", importing.ImportReadView.as_view(), name="import-read"),
    path("import/<int:pk>/progress/", importing.ImportProgressView.as_view(), name="import-progress"),
    path("import/<int:pk>/go-on/", importing.ImportGoOnView.as_view(), name="import-go-on"),
    path("import/<int:pk>/again/", importing.ImportAgainView.as_view(), name="import-again"),
    path("import/<int:pk>/answer/", importing.ImportAnswerView.as_view(), name="import-answer"),
    path("import/<int:pk>/mend/", importing.ImportMendView.as_view(), name="import-mend"),
    path("import/<int:pk>/confirm/", importing.ImportConfirmView.as_view(), name="import-confirm"),
    path("import/<int:pk>/drop/", importing.ImportDropView.as_view(), name="import-drop"),
    path("import/<int:pk>/forget/", importing.ImportForgetView.as_view(), name="import-forget"),
    path("import/<int:pk>/problems.<str:form>", importing.ImportProblemsView.as_view(), name="import-problems"),
]

urlpatterns: list[URLPattern | URLResolver] = [*import_urls, *register_urls, *walk_urls]
