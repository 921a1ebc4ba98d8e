"""Addresses of the shop's registers, under /shop/."""

from django.urls import path

from workshop.views import customers, equipment, people, shop, sign_on

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
    path("people/<uuid:person_id>/retire/", people.retire, name="person_retire"),
    path("equipment/", equipment.equipment, name="equipment"),
    path("equipment/add/<slug:kind>/", equipment.add, name="equipment_add"),
    path("equipment/<uuid:equipment_id>/", equipment.piece, name="equipment_piece"),
    path("equipment/<uuid:equipment_id>/test/", equipment.record_test, name="equipment_test"),
    path("customers/", customers.customers, name="customers"),
    path("customers/add/", customers.add, name="customer_add"),
    path("customers/<uuid:customer_id>/", customers.customer, name="customer"),
    path("customers/<uuid:customer_id>/change/", customers.change, name="customer_change"),
    path("customers/<uuid:customer_id>/vehicle/", customers.add_vehicle, name="vehicle_add"),
    path("vehicles/", customers.vehicles, name="vehicles"),
    path("settings/", shop.settings, name="settings"),
    path("settings/limits/<slug:key>/", shop.limit, name="limit"),
]
