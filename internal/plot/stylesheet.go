package plot

import (
	"fmt"
	"image/color"
	"math"
	"sort"
	"strconv"
	"strings"
	"sync"
)

// The raster reads the same style sheet as a browser does, so that both pictures have one
// look. It knows the subset that Style is written in: rules of classes and elements within
// ".chart", custom properties, and the properties named in look.

// rule is one selector with its declarations.
type rule struct {
	chain   []compound // ".strong .line": the last is the element itself
	weight  int        // classes count 10, elements 1
	order   int
	entries [][2]string
}

// compound is one step of a selector: "path.band".
type compound struct {
	element string
	classes []string
}

type stylesheet struct {
	root  map[string]string // custom properties of the page
	rules []rule
}

var chartStyle = sync.OnceValue(func() *stylesheet { return parseStyle(Style) })

func parseStyle(text string) *stylesheet {
	s := &stylesheet{root: map[string]string{}}
	for _, block := range strings.Split(text, "}") {
		selectors, body, ok := strings.Cut(block, "{")
		if !ok {
			continue
		}
		var entries [][2]string
		for _, d := range strings.Split(body, ";") {
			if k, v, ok := strings.Cut(strings.TrimSpace(d), ":"); ok {
				entries = append(entries, [2]string{strings.TrimSpace(k), strings.TrimSpace(v)})
			}
		}
		for _, selector := range strings.Split(selectors, ",") {
			selector = strings.TrimSpace(selector)
			if selector == ":root" {
				for _, e := range entries {
					s.root[e[0]] = e[1]
				}
				continue
			}
			r := rule{order: len(s.rules), entries: entries}
			for _, step := range strings.Fields(selector) {
				parts := strings.Split(step, ".")
				c := compound{element: parts[0], classes: parts[1:]}
				r.weight += 10 * len(c.classes)
				if c.element != "" {
					r.weight++
				}
				r.chain = append(r.chain, c)
			}
			s.rules = append(s.rules, r)
		}
	}
	sort.SliceStable(s.rules, func(i, j int) bool { return s.rules[i].weight < s.rules[j].weight })
	return s
}

func (c *compound) matches(element string, classes []string) bool {
	if c.element != "" && c.element != element {
		return false
	}
next:
	for _, want := range c.classes {
		for _, have := range classes {
			if want == have {
				continue next
			}
		}
		return false
	}
	return true
}

// node is an element with its ancestors, outermost first.
type node struct {
	element string
	classes []string
}

// matches tells whether the rule is for the last of the nodes.
func (r *rule) matches(nodes []node) bool {
	last := len(nodes) - 1
	k := len(r.chain) - 1
	if !r.chain[k].matches(nodes[last].element, nodes[last].classes) {
		return false
	}
	for k--; k >= 0; k-- {
		for last--; last >= 0 && !r.chain[k].matches(nodes[last].element, nodes[last].classes); last-- {
		}
		if last < 0 {
			return false
		}
	}
	return true
}

// look is how one element is drawn.
type look struct {
	fill, stroke color.NRGBA // alpha 0: none
	width        float64     // of the stroke, user units
	dashes       []float64
	round        bool // ends
	opacity      float64
	size         float64 // of text
	bold         bool
	halo         bool // the stroke is below the fill
}

// of computes the look of the last of the nodes.
func (s *stylesheet) of(nodes []node) look {
	vars, own := map[string]string{}, map[string]string{}
	for k, v := range s.root {
		vars[k] = v
	}
	for n := 1; n <= len(nodes); n++ {
		declared := map[string]string{}
		for i := range s.rules {
			if s.rules[i].matches(nodes[:n]) {
				for _, e := range s.rules[i].entries {
					declared[e[0]] = e[1]
				}
			}
		}
		inherited := own
		own = map[string]string{}
		for _, k := range []string{"fill", "stroke", "stroke-width", "stroke-dasharray", "stroke-linecap", "font-size", "font-weight", "paint-order", "font"} {
			if v, ok := inherited[k]; ok {
				own[k] = v
			}
		}
		for k, v := range declared {
			if strings.HasPrefix(k, "--") {
				vars[k] = resolve(v, vars)
			} else {
				own[k] = v
			}
		}
	}
	l := look{opacity: 1, width: 1, size: 12}
	l.fill, _ = parseColour(resolve(own["fill"], vars))
	l.stroke, _ = parseColour(resolve(own["stroke"], vars))
	number := func(key string, to *float64) {
		if v, err := strconv.ParseFloat(strings.TrimSuffix(resolve(own[key], vars), "px"), 64); err == nil {
			*to = v
		}
	}
	if size, _, ok := strings.Cut(own["font"], "px"); ok {
		if v, err := strconv.ParseFloat(size, 64); err == nil {
			l.size = v
		}
	}
	number("stroke-width", &l.width)
	number("opacity", &l.opacity)
	number("font-size", &l.size)
	for _, d := range strings.Fields(own["stroke-dasharray"]) {
		if v, err := strconv.ParseFloat(d, 64); err == nil && v >= 0 {
			l.dashes = append(l.dashes, v)
		}
	}
	l.round = own["stroke-linecap"] == "round"
	l.bold = own["font-weight"] >= "600" && own["font-weight"] != ""
	l.halo = own["paint-order"] == "stroke"
	return l
}

// resolve replaces var(--name,fallback).
func resolve(v string, vars map[string]string) string {
	inside, ok := strings.CutPrefix(v, "var(")
	if !ok {
		return v
	}
	inside = strings.TrimSuffix(inside, ")")
	name, fallback, _ := strings.Cut(inside, ",")
	if x, ok := vars[strings.TrimSpace(name)]; ok {
		return resolve(x, vars)
	}
	return resolve(strings.TrimSpace(fallback), vars)
}

func parseColour(s string) (color.NRGBA, error) {
	if s == "" || s == "none" {
		return color.NRGBA{}, nil
	}
	n, err := strconv.ParseUint(strings.TrimPrefix(s, "#"), 16, 32)
	if err != nil || len(s) != 7 || s[0] != '#' || n > math.MaxUint32 {
		return color.NRGBA{}, fmt.Errorf("%q is no colour of six figures", s)
	}
	return color.NRGBA{uint8(n >> 16), uint8(n >> 8), uint8(n), 255}, nil
}
