package workings

import (
	"errors"
	"fmt"

	"hangtrue/checklist/plan"
)

// ErrPlan is returned when there is no plan to work with.
var ErrPlan = errors.New("workings: no plan")

// of names the part of the plan that an error is about.
func of(part string, err error) error {
	return fmt.Errorf("workings: %s: %w", part, err)
}

// modelOf is a mount's loudspeaker; [plan.ErrUnknown], with the mount's name,
// where the plan has none of that name.
func modelOf(p *plan.Plan, m *plan.Mount) (*plan.Model, error) {
	if model := p.Model(m.Model); model != nil {
		return model, nil
	}
	return nil, of("mount "+m.Channel, fmt.Errorf("%w: loudspeaker %q", plan.ErrUnknown, m.Model))
}
