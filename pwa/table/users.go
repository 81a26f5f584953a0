package table

import "hangtrue/checklist/plan"

// usersOf are the mounts that name a part.
func usersOf(p *plan.Plan, f *partForm, label string) []string {
	var users []string
	for i := range p.Mounts {
		for _, field := range fieldsOf(&p.Mounts[i], f.kind) {
			if *field == label && label != "" {
				users = append(users, p.Mounts[i].Channel)
				break
			}
		}
	}
	return users
}

// rename makes every mount that names a part name it by its new name.
func rename(p *plan.Plan, f *partForm, from, to string) {
	if from == to {
		return
	}
	for i := range p.Mounts {
		for _, field := range fieldsOf(&p.Mounts[i], f.kind) {
			if *field == from {
				*field = to
			}
		}
	}
}

// fieldsOf are the places where a mount names a part of this kind.
func fieldsOf(m *plan.Mount, kind string) []*string {
	switch kind {
	case "loudspeaker":
		return []*string{&m.Model}
	case "bracket":
		return []*string{&m.Bracket}
	case "fixing":
		return []*string{&m.Fixing}
	case "cable":
		return []*string{&m.Cable}
	case "amplifier":
		return []*string{&m.Amplifier}
	case "listening":
		return []*string{&m.AimAt}
	case "shape", "surface":
		return nil // a surface is named after its side; see the forms
	}
	return nil
}
