from django.urls import path

from loans.views import loans, students, terms

app_name = "loans"
urlpatterns = [
    path("", loans.LoanListView.as_view(), name="list"),
    path("<int:pk>/", loans.LoanView.as_view(), name="loan"),
    path("<int:pk>/agreement.pdf", loans.AgreementView.as_view(), name="agreement"),
    path("<int:pk>/agreement/make/", loans.MakeAgreementView.as_view(), name="make-agreement"),
    path("<int:pk>/signed-paper", loans.ScanView.as_view(), name="scan"),
    path("students/", students.StudentListView.as_view(), name="students"),
    path("students/add/", students.AddStudentView.as_view(), name="add-student"),
    path("students/<int:pk>/", students.StudentView.as_view(), name="student"),
    path("students/<int:pk>/change/", students.EditStudentView.as_view(), name="edit-student"),
    path("students/<int:pk>/left/", students.StudentLeftView.as_view(), name="student-left"),
    path("students/<int:pk>/erase/", students.EraseStudentView.as_view(), name="erase-student"),
    path("terms/", terms.TermsView.as_view(), name="terms"),
    path("terms/change/", terms.ChangeTermsView.as_view(), name="change-terms"),
]
