"""What stands in a source text? Each is read once for all that looks at the house."""

import ast
from functools import cache


@cache
def nodes(text: str) -> tuple[ast.AST, ...]:
    """Every node, the whole module first. Not to be changed."""
    return tuple(ast.walk(ast.parse(text)))
