"""Addresses of the whole project; each app is named by string and keeps its own."""

from django.urls import include, path

from workshop import fault_pages
from workshop.views import start

urlpatterns = [
    path("start/", start.start, name="start"),
    path("start/certificate/", start.certificate, name="start_certificate"),
    path("start/plain/", start.go_on_plain, name="start_plain"),
    path("packs/", include("packs.urls")),
    path("shop/", include("workshop.urls_shop")),
    path("", include("jobs.urls")),
]

handler400 = fault_pages.bad_request
handler403 = fault_pages.not_allowed
handler404 = fault_pages.not_found
handler500 = fault_pages.server_error
