from django.urls import path, register_converter
from django.urls.converters import StringConverter

from repairs.models import WORDS_OF_ADDRESSES
from repairs.views import (
    benches,
    budgets,
    care,
    donors,
    finding,
    jobs,
    orders,
    proving,
    season,
    shops,
    stock,
    working,
    worth,
)


class BenchCodeConverter(StringConverter):
    """A bench's code; one that is a word of these addresses itself, from before such were refused, ends in a tilde."""

    def to_python(self, value: str) -> str:
        return value.removesuffix("~")

    def to_url(self, value: str) -> str:
        return f"{value}~" if value in WORDS_OF_ADDRESSES else value


register_converter(BenchCodeConverter, "bench")

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
    path("<int:pk>/tried/", working.CountTryView.as_view(), name="count-try"),
    path("<int:pk>/again/", working.TryAgainView.as_view(), name="try-again"),
    path("<int:pk>/came-free/", working.CameFreeView.as_view(), name="came-free"),
    path("<int:pk>/damage/", finding.DamageView.as_view(), name="damage"),
    path("<int:pk>/found/", finding.FoundView.as_view(), name="found"),
    path("<int:pk>/prove/", proving.ProveView.as_view(), name="prove"),
    path("<int:pk>/give-up/", proving.GiveUpView.as_view(), name="give-up"),
    path("<int:pk>/sheet.pdf", jobs.SheetView.as_view(), name="sheet"),
    path("benches/", benches.BenchListView.as_view(), name="benches"),
    path("benches/add/", benches.AddBenchView.as_view(), name="add-bench"),
    path("benches/<bench:code>/", benches.BenchView.as_view(), name="bench"),
    path("benches/<bench:code>/retire/", benches.RetireBenchView.as_view(), name="retire-bench"),
    path("benches/<bench:code>/bring-back/", benches.BringBackBenchView.as_view(), name="bring-back-bench"),
    path("stock/", stock.StockView.as_view(), name="stock"),
    path("stock/parts-horns/", donors.PartsInstrumentsView.as_view(), name="parts-horns"),
    path("stock/parts-horns/taken/<int:pk>/", donors.TakenPartView.as_view(), name="taken-part"),
    path("stock/parts-horns/taken/<int:pk>/off/", donors.DoesNotFitView.as_view(), name="part-off"),
    path("stock/parts-horns/taken/<int:pk>/mistake/", donors.WithdrawTakenView.as_view(), name="withdraw-taken"),
    path("stock/parts-horns/taken/<int:pk>/fit/", donors.NoteFitView.as_view(), name="note-fit"),
    path("stock/parts-horns/<str:asset_number>/", donors.PartsInstrumentView.as_view(), name="parts-horn"),
    path("stock/parts-horns/<str:asset_number>/take/", donors.TakePartView.as_view(), name="take-part"),
    path(
        "stock/parts-horns/<str:asset_number>/mark/", donors.MarkPartsInstrumentView.as_view(), name="mark-parts-horn"
    ),
    path(
        "stock/parts-horns/<str:asset_number>/unmark/",
        donors.UnmarkPartsInstrumentView.as_view(),
        name="unmark-parts-horn",
    ),
    path("stock/item/<int:pk>/", stock.StockItemView.as_view(), name="stock-item"),
    path("stock/item/<int:pk>/receive/", stock.ReceiveStockView.as_view(), name="stock-receive"),
    path("stock/item/<int:pk>/count/", stock.CountStockView.as_view(), name="stock-count"),
    path("stock/item/<int:pk>/change/", stock.ChangeStockView.as_view(), name="stock-change"),
    path("stock/item/<int:pk>/move/", stock.MoveStockView.as_view(), name="stock-move"),
    path("stock/item/<int:pk>/retire/", stock.RetireStockView.as_view(), name="stock-retire"),
    path("stock/item/<int:pk>/bring-back/", stock.BringBackStockView.as_view(), name="stock-bring-back"),
    path("stock/item/entry/<int:pk>/reverse/", stock.ReverseMoveView.as_view(), name="stock-reverse"),
    path("stock/<bench:code>/", stock.BenchStockView.as_view(), name="bench-stock"),
    path("stock/<bench:code>/add/", stock.AddStockView.as_view(), name="add-stock"),
    path("stock/<bench:code>/shopping/", stock.ShoppingView.as_view(), name="shopping"),
    path("stock/<bench:code>/shopping.pdf", stock.ShoppingPdfView.as_view(), name="shopping-pdf"),
    path("stock/<bench:code>/shopping.csv", stock.ShoppingCsvView.as_view(), name="shopping-csv"),
    path("shops/", shops.ShopsView.as_view(), name="shops"),
    path("shops/add/", shops.AddShopView.as_view(), name="add-shop"),
    path("shops/budgets/", budgets.BudgetsView.as_view(), name="budgets"),
    path("shops/budgets/add/", budgets.AddBudgetView.as_view(), name="add-budget"),
    path("shops/budgets/<int:pk>/", budgets.ChangeBudgetView.as_view(), name="change-budget"),
    path("shops/orders.csv", budgets.OrderBooksView.as_view(), name="order-books"),
    path("shops/<int:pk>/", shops.ShopView.as_view(), name="shop"),
    path("shops/<int:pk>/change/", shops.ChangeShopView.as_view(), name="change-shop"),
    path("shops/ask/<str:asset_number>/", orders.AskShopView.as_view(), name="ask-shop"),
    path("shops/orders/<int:pk>/", orders.OrderView.as_view(), name="order"),
    path("shops/orders/<int:pk>/estimate/", orders.EstimateView.as_view(), name="order-estimate"),
    path("shops/orders/<int:pk>/approve/", orders.ApproveOrderView.as_view(), name="order-approve"),
    path("shops/orders/<int:pk>/refuse/", orders.RefuseOrderView.as_view(), name="order-refuse"),
    path("shops/orders/<int:pk>/go-ahead/", orders.OrderWorkView.as_view(), name="order-work"),
    path("shops/orders/<int:pk>/send/", orders.SendView.as_view(), name="order-send"),
    path("shops/orders/<int:pk>/back/", orders.BackView.as_view(), name="order-back"),
    path("shops/orders/<int:pk>/bill/", orders.InvoiceView.as_view(), name="order-invoice"),
    path("shops/orders/<int:pk>/warranty/", orders.WarrantyView.as_view(), name="order-warranty"),
    path("shops/orders/<int:pk>/call-off/", orders.CallOffView.as_view(), name="order-call-off"),
    path("shops/orders/<int:pk>/promise/", orders.PromiseView.as_view(), name="order-promise"),
    path("shops/orders/<int:pk>/take-back/", orders.TakeBackView.as_view(), name="order-take-back"),
    path("shops/orders/<int:pk>/unapprove/", orders.TakeApprovalBackView.as_view(), name="order-unapprove"),
    path("shops/orders/<int:pk>/slip.pdf", orders.PackingSlipView.as_view(), name="packing-slip"),
    path("season/", season.SeasonView.as_view(), name="season"),
    path("learning/", season.LearningView.as_view(), name="learning"),
    path("care/", care.CareView.as_view(), name="care"),
    path("care/card/<slug:kind>.pdf", care.CareCardView.as_view(), name="care-card"),
    path("care/done/<int:pk>/take-back/", care.WithdrawCareView.as_view(), name="withdraw-care"),
    path("care/day/<str:school>/<slug:kind>/", care.CareDayView.as_view(), name="care-day"),
    path("care/day/<str:school>/<slug:kind>/done/", care.CareDoneView.as_view(), name="care-done"),
    path("care/day/<str:school>/<slug:kind>/sheet.pdf", care.CareDayPdfView.as_view(), name="care-sheet"),
    path("worth/approvals/", worth.ApprovalsView.as_view(), name="approvals"),
    path("worth/decisions/<int:pk>/read/", worth.ReadAnswerView.as_view(), name="read-answer"),
    path("worth/decisions/<int:pk>/settle/", worth.SettleView.as_view(), name="settle-worth"),
    path("worth/<str:asset_number>/", worth.WorthView.as_view(), name="worth"),
    path("worth/<str:asset_number>/decide/", worth.DecideWorthView.as_view(), name="decide-worth"),
]
