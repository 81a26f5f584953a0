package table

import "hangtrue/checklist/plan"

// usersOf are the mounts that name a part.
func usersOf(p *plan.Plan, f *partForm, label string) []string {
	var users []string
	for i := range p.Mounts {
		if field := fieldOf(&p.Mounts[i], f.kind); field != nil && *field == label && label != "" {
			users = append(users, p.Mounts[i].Channel)
		}
	}
	return users
}

// rename makes every mount that names a part name it by its new name.
func rename(p *plan.Plan, f *partForm, from, to string) {
	for i := range p.Mounts {
		if field := fieldOf(&p.Mounts[i], f.kind); field != nil && *field == from {
			*field = to
		}
	}
}

// fieldOf is where a mount names a part of this kind; nil for kinds that it does not name.
func fieldOf(m *plan.Mount, kind string) *string {
	switch kind {
	case "loudspeaker":
		return &m.Model
	case "bracket":
		return &m.Bracket
	case "fixing":
		return &m.Fixing
	case "cable":
		return &m.Cable
	case "amplifier":
		return &m.Amplifier
	case "listening":
		return &m.AimAt
	}
	return nil
}
