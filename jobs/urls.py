"""Addresses of jobs."""

from django.urls import path

from jobs.views import belonging, booking, entry, equipment, job, lists, quarantine, report, sheet

app_name = "jobs"
urlpatterns = [
    path("", lists.today_page, name="today"),
    path("jobs/", lists.open_jobs_page, name="open_jobs"),
    path("jobs/book/", booking.book, name="book"),
    path("customers/<uuid:customer_id>/jobs/", belonging.customer_jobs, name="customer_jobs"),
    path("customers/<uuid:customer_id>/erase/", belonging.erase, name="customer_erase"),
    path("vehicles/<uuid:vehicle_id>/jobs/", belonging.vehicle_jobs, name="vehicle_jobs"),
    path("entries/", entry.entries, name="entries"),
    path("quarantine/", quarantine.watches_page, name="quarantine"),
    path("quarantine/<uuid:watch_id>/", quarantine.watch_of, name="watch"),
    path("quarantine/<uuid:watch_id>/check/", quarantine.check, name="watch_check"),
    path("quarantine/<uuid:watch_id>/end/", quarantine.end, name="watch_end"),
    path("equipment/<uuid:equipment_id>/correct/", equipment.correct, name="equipment_correct"),
    path("equipment/<uuid:equipment_id>/withdraw/", equipment.withdraw, name="withdraw"),
    path("jobs/<uuid:job_id>/", job.job, name="job"),
    path("jobs/<uuid:job_id>/record/", job.record, name="record"),
    path("jobs/<uuid:job_id>/head/", job.head, name="head"),
    path("jobs/<uuid:job_id>/quotation.pdf", report.quotation_pdf, name="quotation"),
    path("jobs/<uuid:job_id>/report.pdf", report.report_pdf, name="report"),
    path("jobs/<uuid:job_id>/photo/", entry.photo, name="photo"),
    path("jobs/<uuid:job_id>/attachments/<slug:sha256>/", entry.attachment_file, name="attachment"),
    path("jobs/<uuid:job_id>/<slug:slug>/", job.step, name="step"),
    path("jobs/<uuid:job_id>/<slug:slug>/sheet/", sheet.sheet, name="sheet"),
]
