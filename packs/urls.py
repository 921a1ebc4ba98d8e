"""Addresses under /packs/."""

from django.urls import path

from packs.views import definitions, spares

app_name = "packs"
urlpatterns = [
    path("", definitions.packs_page, name="packs"),
    path("upload/", definitions.upload_page, name="upload"),
    path("kinds/<slug:slug>/", definitions.pack_page, name="pack"),
    path("kinds/<slug:slug>/withdraw/", definitions.withdraw, name="withdraw"),
    path("kinds/<slug:slug>/<int:number>/", definitions.pack_page, name="revision"),
    path("kinds/<slug:slug>/<int:number>/file/", definitions.pack_file, name="file"),
    path("spares/", spares.spares_page, name="spares"),
    path("spares/add/", spares.add_spare_page, name="add_spare"),
    path("spares/<uuid:spare_id>/", spares.spare_page, name="spare"),
    path("spares/<uuid:spare_id>/move/", spares.move_spare, name="move_spare"),
    path("spares/<uuid:spare_id>/test/", spares.add_spare_test, name="test_spare"),
]
