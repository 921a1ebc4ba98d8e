"""Addresses of the shop's registers, under /shop/."""

from django.urls import path

from workshop.views import backups, customers, equipment, people, shop, sign_on, vehicles

app_name = "shop"
urlpatterns = [
    path("sign-on/", sign_on.tiles, name="sign_on"),
    path("sign-on/<uuid:person_id>/", sign_on.pin, name="sign_on_person"),
    path("sign-off/", sign_on.leave, name="sign_off"),
    path("first-run/", sign_on.first_run, name="first_run"),
    path("my-pin/", sign_on.own_pin, name="own_pin"),
    path("people/", people.people, name="people"),
    path("people/add/", people.add, name="person_add"),
    path("people/<uuid:person_id>/", people.person, name="person"),
    path("people/<uuid:person_id>/pin/", people.set_pin, name="person_pin"),
    path("people/<uuid:person_id>/unlock/", people.unlock, name="person_unlock"),
    path("people/<uuid:person_id>/pin/clear/", people.clear_pin, name="person_pin_clear"),
    path("people/<uuid:person_id>/change/", people.change, name="person_change"),
    path("people/<uuid:person_id>/retire/", people.retire, name="person_retire"),
    path("people/<uuid:person_id>/return/", people.come_back, name="person_return"),
    path(
        "people/<uuid:person_id>/qualifications/<slug:code>/remove/",
        people.remove_qualification,
        name="qualification_remove",
    ),
    path(
        "people/<uuid:person_id>/certificates/<slug:sha256>/",
        people.certificate,
        name="person_certificate",
    ),
    path("equipment/", equipment.equipment, name="equipment"),
    path("equipment/due/", equipment.due_list, name="equipment_due"),
    path("equipment/add/<slug:kind>/", equipment.add, name="equipment_add"),
    path("equipment/<uuid:equipment_id>/", equipment.piece, name="equipment_piece"),
    path(
        "equipment/<uuid:equipment_id>/certificates/<slug:sha256>/",
        equipment.certificate,
        name="equipment_certificate",
    ),
    path("equipment/<uuid:equipment_id>/test/", equipment.record_test, name="equipment_test"),
    path("customers/", customers.customers, name="customers"),
    path("customers/add/", customers.add, name="customer_add"),
    path("customers/<uuid:customer_id>/", customers.customer, name="customer"),
    path("customers/<uuid:customer_id>/change/", customers.change, name="customer_change"),
    path("customers/<uuid:customer_id>/vehicle/", customers.add_vehicle, name="vehicle_add"),
    path("vehicles/", vehicles.vehicles, name="vehicles"),
    path("vehicles/<uuid:vehicle_id>/", vehicles.vehicle, name="vehicle"),
    path("vehicles/<uuid:vehicle_id>/change/", vehicles.change, name="vehicle_change"),
    path("vehicles/<uuid:vehicle_id>/owner/", vehicles.owner, name="vehicle_owner"),
    path("settings/", shop.settings, name="settings"),
    path("backups/", backups.backups, name="backups"),
    path("backups/now/", backups.make_now, name="backup_now"),
    path("backups/<slug:name>.zip", backups.download, name="backup_file"),
    path("settings/limits/<slug:key>/", shop.limit, name="limit"),
]
