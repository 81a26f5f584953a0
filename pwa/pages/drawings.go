//go:build !ladder

package pages

import (
	"hangtrue/checklist/plan"
	"hangtrue/pwa/drawing"
	. "hangtrue/pwa/markup"
)

// drawingsPage shows the room from above and from the side as one listening position
// hears it, the primary one if none is named, and leads to every wall.
func (v view) drawingsPage(seat string) Document {
	p := v.State.Plan()
	switch {
	case p == nil:
		return missing("No plan is settled yet.")
	case seat != "" && p.Position(seat) == nil:
		return missing("The plan has no listening position of this name.")
	}
	chosen := p.Position(seat)
	if chosen == nil {
		chosen = p.Primary()
	}
	above, _ := drawing.PlanView{Plan: p, Seat: seat}.SVG()
	side, _ := drawing.SideView{Plan: p, Seat: seat}.SVG()
	return Document{Title: "Drawings", Main: Group(
		v.crumbs(""),
		El("div", class("title"), El("h1", Text("Drawings"))),
		v.positions(chosen),
		El("div", class("columns"),
			El("section", El("h2", Text("From above")), framed(above)),
			El("section", El("h2", Text("From the side")), framed(side))),
		v.walls(),
	)}
}

// positions lead to the same drawings from elsewhere.
func (v view) positions(chosen *plan.Listening) Node {
	return El("nav", Attr("aria-label", "Listening position"), class("choices"), Each(v.State.Plan().Listening, func(l plan.Listening) Node {
		here := chosen != nil && l.Name == chosen.Name
		return El("a", Attr("href", v.path("drawings", l.Name)), If(here, Attr("aria-current", "page")), Text(l.Name))
	}))
}
