from django.urls import path

from loans.views import assigning, exports, holds, loans, seats, students, terms

app_name = "loans"
urlpatterns = [
    path("", loans.LoanListView.as_view(), name="list"),
    path("<int:pk>/", loans.LoanView.as_view(), name="loan"),
    path("<int:pk>/agreement.pdf", loans.AgreementView.as_view(), name="agreement"),
    path("<int:pk>/agreement/make/", loans.MakeAgreementView.as_view(), name="make-agreement"),
    path("<int:pk>/signed-paper", loans.ScanView.as_view(), name="scan"),
    path("students/", students.StudentListView.as_view(), name="students"),
    path("export/", exports.LoanExportView.as_view(), name="export-loans"),
    path("students/export/", exports.StudentExportView.as_view(), name="export-students"),
    path("students/add/", students.AddStudentView.as_view(), name="add-student"),
    path("students/<int:pk>/", students.StudentView.as_view(), name="student"),
    path("students/<int:pk>/change/", students.EditStudentView.as_view(), name="edit-student"),
    path("students/<int:pk>/left/", students.StudentLeftView.as_view(), name="student-left"),
    path("students/<int:pk>/erase/", students.EraseStudentView.as_view(), name="erase-student"),
    path("ensembles/", seats.EnsemblesView.as_view(), name="ensembles"),
    path("ensembles/add/", seats.AddEnsembleView.as_view(), name="add-ensemble"),
    path("ensembles/<int:pk>/", seats.EnsembleView.as_view(), name="ensemble"),
    path("ensembles/<int:pk>/change/", seats.EditEnsembleView.as_view(), name="edit-ensemble"),
    path("ensembles/<int:pk>/students/", seats.EnsembleStudentsView.as_view(), name="ensemble-students"),
    path("classes/add/", seats.AddPeriodView.as_view(), name="add-period"),
    path("classes/<int:pk>/", seats.PeriodView.as_view(), name="period"),
    path("classes/<int:pk>/change/", seats.EditPeriodView.as_view(), name="edit-period"),
    path("classes/<int:pk>/students/", seats.PeriodStudentsView.as_view(), name="period-students"),
    path("assignments/", assigning.AssignmentsView.as_view(), name="assignments"),
    path("assignments/<int:pk>/", assigning.AssignmentView.as_view(), name="assignment"),
    path("assignments/<int:pk>/lines/<int:line>/", assigning.LineView.as_view(), name="assignment-line"),
    path("assignments/<int:pk>/hand-out.pdf", assigning.HandOutListView.as_view(), name="hand-out-list"),
    path("need/", seats.NeedView.as_view(), name="need"),
    path("students/<int:pk>/copy.pdf", exports.StudentCopyView.as_view(), name="student-copy"),
    path("students/<int:pk>/holds/", holds.HoldsView.as_view(), name="holds"),
    path("holds/<int:pk>/lift/", holds.LiftHoldView.as_view(), name="lift-hold"),
    path("terms/", terms.TermsView.as_view(), name="terms"),
    path("terms/change/", terms.ChangeTermsView.as_view(), name="change-terms"),
]
