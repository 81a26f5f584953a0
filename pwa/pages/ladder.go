//go:build ladder

package pages

import "hangtrue/pwa/forms"

// The program that a phone loads first leaves out the pages on which a plan is made,
// and the drawings of the whole room: nobody needs them on a ladder. The whole program
// has them, and is fetched when one of them is opened.

func (v view) tablePage([]string) Document { return elsewherePage() }

func (v view) drawingsPage(string) Document { return elsewherePage() }

func elsewherePage() Document {
	d := absent("Not on this phone yet", "This page needs a part of the program that this device has not fetched yet. Open it once in reach of the server; from then on it is here.")
	d.Whole = true
	return d
}

func (v view) tableDraft([]string, Form) map[string]string { return nil }

func (v view) tableFile([]string, []byte) map[string]string { return nil }

func (v view) tableSubmit([]string, Form) Submission { return forms.Nothing }
