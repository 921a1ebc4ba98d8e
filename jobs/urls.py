"""Addresses of jobs."""

from django.urls import path

from jobs.views import booking, entry, equipment, job, lists, report

app_name = "jobs"
urlpatterns = [
    path("", lists.today_page, name="today"),
    path("jobs/", lists.open_jobs_page, name="open_jobs"),
    path("jobs/book/", booking.book, name="book"),
    path("entries/", entry.entries, name="entries"),
    path("equipment/<uuid:equipment_id>/withdraw/", equipment.withdraw, name="withdraw"),
    path("jobs/<uuid:job_id>/", job.job, name="job"),
    path("jobs/<uuid:job_id>/record/", job.record, name="record"),
    path("jobs/<uuid:job_id>/report.pdf", report.report_pdf, name="report"),
    path("jobs/<uuid:job_id>/photo/", entry.photo, name="photo"),
    path("jobs/<uuid:job_id>/attachments/<slug:sha256>/", entry.attachment_file, name="attachment"),
    path("jobs/<uuid:job_id>/<slug:slug>/", job.step, name="step"),
]
