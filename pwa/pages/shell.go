package pages

import . "hangtrue/pwa/markup"

// Fragment is what goes into <main id="page">.
func (d Document) Fragment() string { return String(d.Main) }

// Page is the whole HTML document.
func (d Document) Page(a Assets) string {
	return "<!DOCTYPE html>\n" + String(El("html", Attr("lang", "en"),
		El("head",
			El("meta", Attr("charset", "utf-8")),
			El("title", Text(d.title())),
			El("meta", Attr("name", "viewport"), Attr("content", "width=device-width, initial-scale=1")),
			El("meta", Attr("name", "color-scheme"), Attr("content", "light dark")),
			El("meta", Attr("name", "theme-color"), Attr("content", "#f4f1ea"), Attr("media", "(prefers-color-scheme: light)")),
			El("meta", Attr("name", "theme-color"), Attr("content", "#17191b"), Attr("media", "(prefers-color-scheme: dark)")),
			El("link", Attr("rel", "stylesheet"), Attr("href", a.Style)),
			El("link", Attr("rel", "manifest"), Attr("href", a.Manifest)),
			El("link", Attr("rel", "icon"), Attr("href", a.Icon)),
			El("link", Attr("rel", "apple-touch-icon"), Attr("href", a.AppleIcon)),
			El("script", Attr("type", "module"), Attr("src", a.Script)),
		),
		El("body", Attr("data-version", a.Version),
			El("a", class("skip"), Attr("href", "#page"), Text("To the page")),
			El("header", class("top"),
				El("a", class("home"), Attr("href", "/"), Text("hangtrue")),
				El("p", Attr("id", "say"), Attr("role", "status")),
				El("a", class("you"), Attr("href", "/you"), Text("You")),
			),
			El("main", Attr("id", "page"), Attr("tabindex", "-1"), d.Main),
			El("noscript", El("p", class("notice"), Text("Scripts are off. You can read everything here; recording needs them."))),
		),
	))
}

func (d Document) title() string {
	if d.Title == "hangtrue" {
		return d.Title
	}
	return d.Title + " · hangtrue"
}
