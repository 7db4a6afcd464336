"""The public names of `nest`."""

import ast
from importlib import import_module
from pathlib import Path

import pytest

import nest


def test_every_public_name_is_there():
    """Each name in `__all__` loads, is listed by `dir`, and is what its home module has."""
    assert len(nest.__all__) == len(set(nest.__all__))
    for name in nest.__all__:
        module, inner = nest._HOMES[name]
        assert getattr(nest, name) is getattr(import_module(module), inner)
        assert name in dir(nest)


def test_no_public_name_is_a_module_too():
    """A name that is also a package would change its meaning once that package is imported."""
    folder = Path(nest.__file__).parent
    modules = {path.stem for path in folder.iterdir()}
    assert not modules & set(nest.__all__)


def test_type_checkers_see_the_same_names():
    """The imports for type checkers bring every public name from the module it is loaded from, and no other."""
    tree = ast.parse(Path(nest.__file__).read_text(encoding="utf-8"))
    block = next(node for node in tree.body if isinstance(node, ast.If))
    homes = {
        alias.asname: (node.module, alias.name)
        for node in block.body if isinstance(node, ast.ImportFrom) for alias in node.names
    }
    homes |= {node.targets[0].id: homes.pop(node.value.id) for node in block.body if isinstance(node, ast.Assign)}
    assert homes == nest._HOMES


def test_unknown_names_are_refused():
    """A name that is not public gives the usual error."""
    with pytest.raises(AttributeError, match="nowhere"):
        nest.nowhere  # noqa: B018
