"""What axe-core finds serious on a page as it stands, everything on it unfolded."""

from __future__ import annotations

from typing import Any

from page_tools import ROOT, tool

AXE = ROOT / "frontend" / "node_modules" / "axe-core" / "axe.min.js"
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]


def serious(seen: Any) -> list[Any]:
    """Impact, rule and places of each serious violation; the page was opened with ``bypass_csp=True``."""
    if not AXE.is_file():
        tool("check")  # whatever comes first brings the packages
    seen.page.add_script_tag(path=str(AXE))
    seen.page.evaluate("() => { for (const one of document.querySelectorAll('main details')) one.open = true }")
    found = seen.page.evaluate(
        f"axe.run(document, {{runOnly: {RULES}}})"
        ".then(said => said.violations.map(one => [one.impact, one.id, one.nodes.map(node => node.target.join())]))"
    )
    return [one for one in found if one[0] in ("serious", "critical")]
