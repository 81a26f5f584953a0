package engine

import "hangtrue/pwa/pages"

type reading struct {
	Path string `json:"path"`
	Data []byte `json:"data"` // base64 on the way; empty when the file was over its bound
}

// file tells what a chosen file says. Nothing is kept of it.
func (e *Engine) file(in reading) (Answer, error) {
	e.want = ""
	parts := pages.File(in.Path, in.Data, e)
	if e.want != "" {
		return Answer{Need: e.want}, nil
	}
	return Answer{Parts: parts}, nil
}
