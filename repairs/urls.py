from django.urls import path

from repairs.views import benches, finding, jobs, papers, proving, working

app_name = "repairs"
urlpatterns = [
    path("", jobs.JobListView.as_view(), name="jobs"),
    path("open/<str:asset_number>/", jobs.OpenJobView.as_view(), name="open-job"),
    path("<int:pk>/", working.JobView.as_view(), name="job"),
    path("<int:pk>/start/", working.StartStepView.as_view(), name="start-step"),
    path("<int:pk>/wait/", working.WaitView.as_view(), name="wait"),
    path("<int:pk>/stop-clock/", working.StopClockView.as_view(), name="stop-clock"),
    path("<int:pk>/do/", working.DoStepView.as_view(), name="do-step"),
    path("<int:pk>/cautions/", working.CautionsView.as_view(), name="cautions"),
    path("<int:pk>/again/", working.TryAgainView.as_view(), name="try-again"),
    path("<int:pk>/damage/", finding.DamageView.as_view(), name="damage"),
    path("<int:pk>/found/", finding.FoundView.as_view(), name="found"),
    path("<int:pk>/prove/", proving.ProveView.as_view(), name="prove"),
    path("<int:pk>/give-up/", proving.GiveUpView.as_view(), name="give-up"),
    path("<int:pk>/sheet.pdf", papers.SheetView.as_view(), name="sheet"),
    path("benches/", benches.BenchListView.as_view(), name="benches"),
    path("benches/add/", benches.AddBenchView.as_view(), name="add-bench"),
    path("benches/<str:code>/", benches.BenchView.as_view(), name="bench"),
]
