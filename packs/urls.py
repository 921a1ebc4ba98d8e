"""Addresses under /packs/."""

from django.urls import path

from packs import views

app_name = "packs"
urlpatterns = [
    path("", views.packs_page, name="packs"),
    path("upload/", views.upload_page, name="upload"),
    path("kinds/<slug:slug>/", views.pack_page, name="pack"),
    path("kinds/<slug:slug>/withdraw/", views.withdraw, name="withdraw"),
    path("kinds/<slug:slug>/<int:number>/", views.pack_page, name="revision"),
    path("kinds/<slug:slug>/<int:number>/file/", views.pack_file, name="file"),
    path("spares/", views.spares_page, name="spares"),
    path("spares/add/", views.add_spare_page, name="add_spare"),
    path("spares/<uuid:spare_id>/", views.spare_page, name="spare"),
    path("spares/<uuid:spare_id>/move/", views.move_spare, name="move_spare"),
    path("spares/<uuid:spare_id>/test/", views.add_spare_test, name="test_spare"),
]
