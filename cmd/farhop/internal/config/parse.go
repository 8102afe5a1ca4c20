package config

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"unicode/utf8"

	"gopkg.in/yaml.v3"
)

// MaxPlanBytes is the largest plan that is read. A net of 5,000 fully described stations fits.
const MaxPlanBytes = 4 << 20

// maxDepth is how deep a plan may nest; the plan's own keys need 6 levels.
const maxDepth = 64

// maxByteProblems is how many characters that don't belong in a plan are listed.
const maxByteProblems = 20

// parse turns the text of a plan into nodes. It returns nil, having said why,
// when there is nothing to decode. After a fault of the YAML itself the sections
// of the plan that are sound by themselves are returned, the others are noted
// in d.broken.
func (d *decoder) parse(data []byte) *yaml.Node {
	if len(data) > MaxPlanBytes {
		d.problem(Problem{
			Message: fmt.Sprintf("is too large for a plan: more than %d bytes", MaxPlanBytes),
			Mend:    "is it the right file? observations belong in a file of their own",
		}, nil)
		return nil
	}
	if !d.readable(data) {
		return nil
	}
	root, err := parseDocument(data)
	if d.manyDocuments(err) {
		return nil
	}
	if err != nil {
		root = d.salvage(data, err)
	}
	return d.rootMapping(root)
}

// rootMapping checks the outermost shape of a plan.
func (d *decoder) rootMapping(root *yaml.Node) *yaml.Node {
	switch {
	case root == nil:
		if len(d.problems) == 0 {
			d.problem(Problem{Message: "the plan is empty", Mend: "farhop init writes a plan to start from"}, nil)
		}
		return nil
	case isNull(root):
		d.problem(Problem{Message: "the plan is empty", Mend: "farhop init writes a plan to start from"}, root)
		return nil
	case tooDeep(root, maxDepth):
		d.problem(Problem{
			Message: fmt.Sprintf("nests deeper than %d levels", maxDepth), Mend: "a plan needs 6; is it the right file?",
		}, root)
		return nil
	}
	return root
}

var errDocuments = errors.New("several documents")

// parseDocument parses a text that holds one YAML document; nil for none. The
// error of the parser or errDocuments, wrapped with the line, comes back. A panic
// of the parser, which it should not have, becomes an error.
func parseDocument(data []byte) (root *yaml.Node, err error) {
	defer func() {
		if r := recover(); r != nil {
			root, err = nil, fmt.Errorf("yaml: the parser gave up: %v", r)
		}
	}()
	dec := yaml.NewDecoder(bytes.NewReader(data))
	var doc, next yaml.Node
	switch err := dec.Decode(&doc); {
	case errors.Is(err, io.EOF):
		return nil, nil
	case err != nil:
		return nil, err
	}
	switch err := dec.Decode(&next); {
	case err == nil:
		return nil, documentError{next.Line, next.Column}
	case !errors.Is(err, io.EOF):
		return nil, err
	}
	if doc.Kind != yaml.DocumentNode || len(doc.Content) == 0 {
		return nil, nil
	}
	return doc.Content[0], nil
}

// documentError says where a second document begins.
type documentError struct{ line, column int }

func (e documentError) Error() string { return errDocuments.Error() }

func (d *decoder) manyDocuments(err error) bool {
	var many documentError
	if !errors.As(err, &many) {
		return false
	}
	d.problem(Problem{
		Message: "a second YAML document begins here",
		Mend:    "a plan is one document: remove the line with --- or keep each plan in a file of its own",
	}, &yaml.Node{Line: many.line, Column: many.column})
	return true
}

// tooDeep reports whether a tree nests deeper than the levels given. Aliases are
// not followed, so that it ends.
func tooDeep(n *yaml.Node, levels int) bool {
	if levels < 0 {
		return true
	}
	for _, c := range n.Content {
		if tooDeep(c, levels-1) {
			return true
		}
	}
	return false
}

// readable reports every character that does not belong in a text file, up to
// maxByteProblems of them.
func (d *decoder) readable(data []byte) bool {
	if bytes.HasPrefix(data, []byte("\xff\xfe")) || bytes.HasPrefix(data, []byte("\xfe\xff")) {
		d.problem(Problem{Message: "is written in UTF-16", Mend: "save it as UTF-8"}, nil)
		return false
	}
	found := 0
	line, column := 1, 1
	for i := 0; i < len(data) && found < maxByteProblems; {
		r, size := utf8.DecodeRune(data[i:])
		if fault := strange(r, size, i); fault != "" {
			found++
			d.problem(Problem{
				Message: fault, Mend: "a plan is plain UTF-8 text; remove it or save the file as UTF-8",
			}, &yaml.Node{Line: line, Column: column})
		}
		i += size
		column++
		if r == '\n' || r == '\r' && (i >= len(data) || data[i] != '\n') {
			line, column = line+1, 1
		}
	}
	return found == 0
}

// strange says what is wrong with a character at an offset, "" if nothing.
// Besides what YAML does not allow, the rare line separators are refused: they
// would make its line numbers differ from those of an editor.
func strange(r rune, size, offset int) string {
	switch {
	case r == utf8.RuneError && size == 1:
		return "a byte that is not UTF-8 text"
	case r == '\t' || r == '\n' || r == '\r':
		return ""
	case r == 0xFEFF && offset == 0:
		return ""
	case r < 0x20, r >= 0x7F && r < 0xA0, r == 0x2028, r == 0x2029, r == 0xFEFF, r == 0xFFFE, r == 0xFFFF:
		return fmt.Sprintf("a character that can't stand in a plan (U+%04X)", r)
	}
	return ""
}
