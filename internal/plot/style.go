package plot

// Style is the style sheet of the charts. Colours are those of Okabe and Ito; the page
// may set the custom properties for a dark ground.
const Style = `
:root{--paper:#fbfbf9;--ink:#1d1d1b;--grey:#62625d;--line:#dcdcd6;--t:#D55E00;--td:#0072B2;--ha:#009E73;--hb:#A67608;--wd:#AA4499;--raw:#9a9a94}
.chart{display:block;width:100%;height:auto;font:12px system-ui,sans-serif;font-variant-numeric:tabular-nums;fill:var(--ink)}
.chart path{fill:none;stroke-linejoin:round}
.chart .line{stroke-linecap:round}.chart .dotted,.chart .dash .line,.chart .dashdot .line,.chart .line.dash{stroke-linecap:butt}
.chart .t{--c:var(--t)}.chart .td{--c:var(--td)}.chart .ha{--c:var(--ha)}.chart .hb{--c:var(--hb)}.chart .wd{--c:var(--wd)}.chart .ink{--c:var(--ink)}.chart .raw{--c:var(--raw)}.chart .faint{--c:var(--grey)}
.chart .line{stroke:var(--c,var(--ink));stroke-width:1.3}
.chart .strong .line,.chart .line.strong{stroke-width:1.8}
.chart .raw .line,.chart .thin .line,.chart .line.thin{stroke-width:.8}
.chart .line.dotted{stroke-dasharray:1.5 3}
.chart .dash .line,.chart .line.dash{stroke-dasharray:6 3}
.chart .dashdot .line{stroke-dasharray:7 2.5 1.5 2.5}
.chart path.band{fill:var(--c);stroke:none;opacity:.17}
.chart .points{stroke:var(--c);stroke-width:1.7;stroke-linecap:round}
.chart .dot{stroke:var(--c);fill:var(--paper);stroke-width:1}
.chart .cross,.chart .gap{stroke:var(--c);stroke-width:1.3}
.chart .grid,.chart .ring,.chart .zero{stroke:var(--line);stroke-width:1;fill:none}
.chart .zero,.chart .zero-line{stroke:var(--grey);stroke-width:.8}
.chart rect.frame{fill:none;stroke:var(--grey);stroke-width:1}
.chart .tick,.chart .unit{fill:var(--grey)}
.chart .head{font-weight:600}
.chart .halo{paint-order:stroke;stroke:var(--paper);stroke-width:3px;stroke-linejoin:round}
.chart text.t,.chart text.td,.chart text.ha,.chart text.hb,.chart text.wd,.chart text.raw{fill:var(--c)}
.chart .level{stroke:var(--ink);stroke-width:.8;stroke-dasharray:2 3}
.chart .hatch{stroke:var(--grey);stroke-width:1.2;opacity:.55}
.chart .isobar,.chart .isotherm{stroke:var(--line);stroke-width:1}
.chart .isotherm.zero{stroke:var(--grey)}
.chart .dry{stroke:var(--t);stroke-width:.7;opacity:.4}
.chart .moist{stroke:var(--ha);stroke-width:.7;opacity:.55;stroke-dasharray:5 3}
.chart .ratio{stroke:var(--td);stroke-width:.8;opacity:.45;stroke-dasharray:1.5 3}
.chart .ratio-name{fill:var(--td);font-size:11px;paint-order:stroke;stroke:var(--paper);stroke-width:3px}
.chart .mark,.chart .scale-bar{stroke:var(--ink);stroke-width:1.6}
.chart .mark-name{paint-order:stroke;stroke:var(--paper);stroke-width:3px}
.chart .barb{stroke:var(--c);stroke-width:1.2;fill:none}
.chart path.pennant{fill:var(--c);stroke:var(--c);stroke-width:.6}
.chart .barb-staff{stroke:var(--line);stroke-width:1}
.chart .height,.chart .place{fill:var(--paper);stroke:var(--c,var(--ink));stroke-width:1.5}
.chart .burst{stroke:var(--ink);stroke-width:2}
.chart path.north{fill:var(--ink)}
.chart .lane-bad{fill:var(--ink)}
.chart .lane-questionable{fill:var(--paper);stroke:var(--ink);stroke-width:1.2}
.chart .lane-note{fill:var(--line)}
.chart .lane-cross{stroke:var(--paper);stroke-width:1.2}
`
