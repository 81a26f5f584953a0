//go:build !ladder

package pages

import (
	. "hangtrue/pwa/markup"
	"hangtrue/pwa/table"
)

// tablePage is one of the pages on which a plan is made.
func (v view) tablePage(rest []string) Document {
	page, ok := v.table().Page(rest)
	if !ok {
		return missing("This plan has no such page.")
	}
	return Document{Title: page.Title, Main: Group(v.planCrumbs(), page.Main)}
}

func (v view) tableDraft(rest []string, form Form) map[string]string {
	return v.table().Draft(rest, form)
}

func (v view) tableSubmit(rest []string, form Form) Submission {
	return v.table().Submit(rest, form)
}

func (v view) tableFile(rest []string, data []byte) map[string]string {
	return v.table().File(rest, data)
}

func (v view) table() table.Table {
	return table.Table{
		State: v.State, Base: v.path("plan"),
		Phone: v.device.ID != "", Known: v.device.Known, Role: v.device.Role,
	}
}

func (v view) planCrumbs() Node {
	return El("nav", Attr("aria-label", "Where you are"), class("crumbs"),
		link("/", "Jobs"), link(v.path(), v.State.Title), link(v.path("plan"), "Plan"))
}
