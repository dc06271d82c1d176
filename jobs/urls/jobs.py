from django.urls import path

from jobs.views import customer_links, imports, job, jobs, materials, panel, pattern, photos, quotes, work

urlpatterns = [
    path("", jobs.jobs, name="jobs"),
    path("new/", jobs.job_new, name="job-new"),
    path("import/", imports.jobs_import, name="jobs-import"),
    path("import/template.csv", imports.import_template, name="jobs-import-template"),
    path("<str:number>/", job.job, name="job"),
    path("<str:number>/change/<slug:group>/", job.job_change, name="job-change"),
    path("<str:number>/gates/<slug:kind>/<slug:verb>/", job.gate_do, name="gate-do"),
    path("<str:number>/work/<int:pk>/<slug:verb>/", work.operation_do, name="operation-do"),
    path("<str:number>/holds/<int:pk>/release/", work.hold_release, name="hold-release"),
    path("<str:number>/customers-page/", customer_links.link_preview, name="customer-preview"),
    path("<str:number>/customers-page/<slug:verb>/", customer_links.link_do, name="customer-link-do"),
    path("<str:number>/approvals/<int:pk>/", customer_links.approval, name="drawing-approval"),
    path("<str:number>/materials/", materials.job_materials, name="job-materials"),
    path("<str:number>/materials/reckon/", materials.materials_reckon, name="materials-reckon"),
    path("<str:number>/quotes/", quotes.job_quotes, name="quotes"),
    path("<str:number>/quotes/make/", quotes.quote_make, name="quote-make"),
    path("<str:number>/quotes/<int:version>/", quotes.quote, name="quote"),
    path("<str:number>/quotes/<int:version>/<slug:verb>/", quotes.quote_do, name="quote-do"),
    path("<str:number>/<int:panel>/", panel.panel, name="panel"),
    path("<str:number>/<int:panel>/change/<slug:group>/", panel.panel_change, name="panel-change"),
    path("<str:number>/<int:panel>/photos/", photos.panel_photo, name="panel-photo"),
    path("<str:number>/<int:panel>/pattern/", pattern.pattern, name="pattern"),
    path("<str:number>/<int:panel>/pattern/upload/", pattern.pattern_upload, name="pattern-upload"),
    path(
        "<str:number>/<int:panel>/pattern/<int:version>/<slug:verb>/", pattern.pattern_do, name="pattern-do"
    ),
    path("<str:number>/<int:panel>/takeoff/", pattern.takeoff_write, name="takeoff-write"),
    path("<str:number>/<int:panel>/takeoff/hours/", pattern.takeoff_apply, name="takeoff-apply"),
]
