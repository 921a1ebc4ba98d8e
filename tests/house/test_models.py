"""Models are columns and constraints: no rules, no hooks, nothing that deletes along."""

import ast
from pathlib import Path

import pytest
from django.apps import apps
from django.db import models

from tests.house.sources import APPS, app_files, imported_names, relative, tree_of

HOOKS = {"save", "delete", "clean", "full_clean", "save_base"}
OWN_MODELS = [model for app in APPS for model in apps.get_app_config(app).get_models()]


def model_files() -> list[Path]:
    return [path for path in app_files() if path.stem == "models" or path.parent.name == "models"]


def test_models_do_no_work_when_saved() -> None:
    working = [
        f"{relative(path)}: {node.name}"
        for path in model_files()
        for node in ast.walk(tree_of(path))
        if isinstance(node, ast.FunctionDef) and node.name in HOOKS
    ]
    assert working == []


def test_models_have_no_managers_with_rules() -> None:
    managed = [
        model.__name__ for model in OWN_MODELS if type(model._default_manager) is not models.Manager
    ]
    assert managed == []


def test_kinds_live_in_code_and_not_in_columns() -> None:
    listed = [
        f"{model.__name__}.{field.name}"
        for model in OWN_MODELS
        for field in model._meta.local_fields
        if field.choices
    ]
    assert listed == []


def test_no_row_disappears_because_another_did() -> None:
    cascading = [
        f"{model.__name__}.{field.name}"
        for model in OWN_MODELS
        for field in model._meta.local_fields
        if isinstance(field, models.ForeignKey)
        and field.remote_field.on_delete is not models.PROTECT
    ]
    assert cascading == []


def test_nobody_listens_to_signals() -> None:
    listening = [
        relative(path)
        for path in app_files()
        if any("signals" in name or "django.dispatch" in name for name in imported_names(path))
    ]
    assert listening == []


@pytest.mark.parametrize("model", OWN_MODELS, ids=lambda model: model.__name__)
def test_every_row_can_be_named(model: type[models.Model]) -> None:
    assert "__str__" in vars(model)
