"""Forms of the shop's registers: what a browser sends, turned into ``workshop.details``.

They keep what was typed and name the field that is wrong. What needs the register to decide (a
label that is taken) is refused by the action and put on the field by ``put_refusal``.
"""

from workshop.forms.customers import CustomerForm, VehicleForm
from workshop.forms.devices import DeviceNameForm, EnrolForm
from workshop.forms.equipment import (
    CorrectionForm,
    EquipmentForm,
    LastTestForm,
    ratings_as_typed,
)
from workshop.forms.fields import (
    CertificateField,
    DayField,
    Group,
    GroupedForm,
    NumberField,
    NumbersField,
    PinField,
    bytes_of,
    initial_of,
    number_text,
    put_refusal,
)
from workshop.forms.people import (
    FirstManagerForm,
    LanguageForm,
    NewPinForm,
    OwnPasswordForm,
    OwnPinForm,
    PersonForm,
    PinForm,
    QualificationForm,
)
from workshop.forms.shop import LimitForm, LogoForm, ShopForm

__all__ = [
    "CertificateField",
    "CorrectionForm",
    "CustomerForm",
    "DayField",
    "DeviceNameForm",
    "EnrolForm",
    "EquipmentForm",
    "FirstManagerForm",
    "Group",
    "GroupedForm",
    "LanguageForm",
    "LastTestForm",
    "LimitForm",
    "LogoForm",
    "NewPinForm",
    "NumberField",
    "NumbersField",
    "OwnPasswordForm",
    "OwnPinForm",
    "PersonForm",
    "PinField",
    "PinForm",
    "QualificationForm",
    "ShopForm",
    "VehicleForm",
    "bytes_of",
    "initial_of",
    "number_text",
    "put_refusal",
    "ratings_as_typed",
]
