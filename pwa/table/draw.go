package table

import (
	"hangtrue/checklist/plan"
	"hangtrue/pwa/drawing"
	. "hangtrue/pwa/markup"
)

// drawRoom shows the room from above, as far as it is surveyed.
func drawRoom(p *plan.Plan, _ string) Node { return fromAbove(drawing.PlanView{Plan: p}) }

// drawSeat shows the room as it is heard from a listening position, and lets that be
// moved.
func drawSeat(p *plan.Plan, name string) Node {
	return fromAbove(drawing.PlanView{Plan: p, Seat: name, Handles: true})
}

func fromAbove(v drawing.PlanView) Node {
	node, ok := v.SVG()
	if !ok {
		return nil
	}
	return node
}

// drawSurface shows a wall, the ceiling or the floor from inside.
func drawSurface(p *plan.Plan, name string) Node {
	node, ok := drawing.Wall{Plan: p, Surface: name}.SVG()
	if !ok {
		return nil
	}
	return node
}
