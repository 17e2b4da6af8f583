"""The looks of a review: text has 4.5 to 1 against its ground in light and dark (WCAG 2.2, 1.4.3)."""

STYLE = """
:root { --ground: #ffffff; --ink: #16181d; --quiet: #4a525c; --hair: #ccd2d8; --pause: #e3e6ea;
  --mark: #b3261e; --line-1: #0072b2; --line-2: #c04a00; --line-3: #00795a; --line-4: #a8437e;
  --line-5: #8a6100; --line-6: #3f4fa8; color-scheme: light dark }
@media screen and (prefers-color-scheme: dark) {
  :root { --ground: #14171b; --ink: #e8ebef; --quiet: #a9b2bc; --hair: #3b434c; --pause: #2a3037;
    --mark: #ff8a80; --line-1: #56b4e9; --line-2: #ff9a57; --line-3: #3fd0a4; --line-4: #ea9cc8;
    --line-5: #e8bc52; --line-6: #a3b0ff } }
* { box-sizing: border-box }
body { margin: 0; background: var(--ground); color: var(--ink);
  font: 15px/1.45 system-ui, "Segoe UI", Roboto, Arial, sans-serif }
main { max-width: 62rem; margin: 0 auto; padding: 1.5rem 1rem 3rem }
h1 { font-size: 1.7rem; margin: 0 0 .6rem }
h2 { font-size: 1.25rem; margin: 2rem 0 .6rem; border-bottom: 2px solid var(--hair); padding-bottom: .2rem }
h3 { font-size: 1rem; margin: 1.4rem 0 .4rem }
.wide { overflow-x: auto }
table { border-collapse: collapse; margin: .3rem 0; font-variant-numeric: tabular-nums }
th, td { text-align: left; vertical-align: top; padding: .22rem 1.1rem .22rem 0;
  border-bottom: 1px solid var(--hair) }
th { color: var(--quiet); font-weight: 600 }
.picture svg { display: block; width: 100%; height: auto; overflow: visible }
.picture text { fill: currentColor }
.key { display: inline-block; min-width: 1.6em; text-align: center; border-bottom: 4px solid }
.line-1 { border-color: var(--line-1) } .line-2 { border-color: var(--line-2) }
.line-3 { border-color: var(--line-3) } .line-4 { border-color: var(--line-4) }
.line-5 { border-color: var(--line-5) } .line-6 { border-color: var(--line-6) }
.moments li { margin-bottom: .7rem }
code { display: block; margin-top: .2rem; font: .85em/1.4 ui-monospace, "DejaVu Sans Mono", monospace;
  overflow-wrap: anywhere; color: var(--quiet) }
@page { margin: 14mm }
@media print {
  body { font-size: 10pt } main { max-width: none; padding: 0 }
  h2, h3 { break-after: avoid } tr, li, .picture { break-inside: avoid } .wide { overflow: visible }
}
"""
