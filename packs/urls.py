"""Addresses under /packs/."""

from django.urls import path

from packs.views import (
    definitions,
    draft_publish,
    draft_sections,
    drafts,
    physical,
    spares,
)

app_name = "packs"
urlpatterns = [
    path("", definitions.packs_page, name="packs"),
    path("upload/", definitions.upload_page, name="upload"),
    path("kinds/<slug:slug>/", definitions.pack_page, name="pack"),
    path("kinds/<slug:slug>/withdraw/", definitions.withdraw, name="withdraw"),
    path("kinds/<slug:slug>/<int:number>/", definitions.pack_page, name="revision"),
    path("kinds/<slug:slug>/<int:number>/file/", definitions.pack_file, name="file"),
    path("kinds/<slug:slug>/<int:number>/draft/", drafts.open_revision, name="open_revision"),
    path(
        "kinds/<slug:slug>/compare/<int:first>/<int:second>/",
        draft_publish.compare_page,
        name="compare",
    ),
    path("drafts/start/", drafts.start_page, name="start_draft"),
    path("drafts/start/picture/", drafts.start_picture, name="start_picture"),
    path("drafts/<uuid:draft_id>/", drafts.draft_page, name="draft"),
    path("drafts/<uuid:draft_id>/discard/", drafts.discard, name="discard_draft"),
    path("drafts/<uuid:draft_id>/file/", drafts.draft_file, name="draft_file"),
    path("drafts/<uuid:draft_id>/publish/", draft_publish.publish_page, name="publish_draft"),
    path(
        "drafts/<uuid:draft_id>/<slug:section>/", draft_sections.section_page, name="draft_section"
    ),
    path(
        "drafts/<uuid:draft_id>/<slug:section>/picture/",
        draft_sections.section_picture,
        name="section_picture",
    ),
    path("spares/", spares.spares_page, name="spares"),
    path("spares/add/", spares.add_spare_page, name="add_spare"),
    path("spares/removed/", spares.removed_modules_page, name="removed_modules"),
    path("spares/<uuid:spare_id>/", spares.spare_page, name="spare"),
    path("spares/<uuid:spare_id>/move/", spares.move_spare, name="move_spare"),
    path("spares/<uuid:spare_id>/test/", spares.add_spare_test, name="test_spare"),
    path("units/", physical.units_page, name="units"),
    path("units/add/", physical.add_unit_page, name="add_unit"),
    path("units/<uuid:unit_id>/", physical.unit_page, name="unit"),
    path("units/<uuid:unit_id>/correct/", physical.correct_unit_page, name="correct_unit"),
]
