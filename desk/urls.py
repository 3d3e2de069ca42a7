from django.urls import path

from desk.views import (
    bench_day,
    fitting,
    instrument,
    lending,
    listed,
    log,
    opening,
    papers,
    scanning,
    searching,
    signing,
    today,
)

app_name = "desk"
urlpatterns = [
    path("", today.TodayView.as_view(), name="today"),
    path("begin/<str:token>/", opening.BeginView.as_view(), name="begin"),
    path("first-steps/", opening.FirstStepsView.as_view(), name="first-steps"),
    path("day/", bench_day.BenchDayView.as_view(), name="bench-day"),
    path("day/sheet.pdf", bench_day.BenchDayPdfView.as_view(), name="bench-day-sheet"),
    path("scan/", scanning.ScanView.as_view(), name="scan"),
    path("find/", scanning.FindView.as_view(), name="find"),
    path("search/", searching.SearchView.as_view(), name="search"),
    path("i/<str:asset_number>/", instrument.InstrumentView.as_view(), name="instrument"),
    path("i/<str:asset_number>/history/", log.HistoryView.as_view(), name="history"),
    path("log/<int:number>/", log.LogEntryView.as_view(), name="log-entry"),
    path("log/<int:number>/error/", log.EnteredInErrorView.as_view(), name="entered-in-error"),
    path("lend/", lending.LendStartView.as_view(), name="lend"),
    path("lend/<str:asset_number>/", lending.LendView.as_view(), name="lend-this"),
    path("lend/<str:asset_number>/walk/", lending.LendWalkView.as_view(), name="lend-walk"),
    path("lists/<int:pk>/", listed.ListedView.as_view(), name="listed"),
    path("sign/print/", papers.PrintToSignView.as_view(), name="print-to-sign"),
    path("sign/papers/", papers.PapersInView.as_view(), name="papers-in"),
    path("P/<str:code>", papers.PaperView.as_view(), name="paper"),
    path("sign/<int:pk>/", signing.SignView.as_view(), name="sign"),
    path("fit/<str:asset_number>/", fitting.FitView.as_view(), name="fit"),
    path("suits/<int:pk>/", fitting.SuitsView.as_view(), name="suits"),
    path("take-back/<str:asset_number>/", lending.TakeBackView.as_view(), name="take-back"),
    path("take-back/<str:asset_number>/walk/", lending.TakeBackWalkView.as_view(), name="take-back-walk"),
    # Upper case, so that the printed code stays in the small alphanumeric mode.
    path("T/<str:token>", scanning.TagView.as_view(), name="tag"),
    path("T/<str:token>/REPORT", scanning.ReportView.as_view(), name="report"),
]
