from django.urls import path

from jobs.views import all_papers, label_papers, list_papers, papers

urlpatterns = [
    path("bench/<slug:slug>/", list_papers.paper_bench, name="paper-bench"),
    path("week/", list_papers.paper_week, name="paper-week"),
    path("materials/", list_papers.paper_purchases, name="paper-purchases"),
    path("materials/<str:number>/", list_papers.paper_job_purchases, name="paper-job-purchases"),
    path("<str:number>/all/", all_papers.paper_all, name="paper-all"),
    path("<str:number>/crates/", label_papers.paper_crates, name="paper-crates"),
    path("<str:number>/<int:panel>/traveler/", papers.paper_traveler, name="paper-traveler"),
    path("<str:number>/<int:panel>/cut-list/", papers.paper_cut_list, name="paper-cut-list"),
    path("<str:number>/<int:panel>/pattern/", papers.paper_pattern, name="paper-pattern"),
    path("<str:number>/<int:panel>/labels/", label_papers.paper_labels, name="paper-labels"),
]
