package cli

// texts is the value of a flag that may be given several times. (That of pflag tells its
// value by way of a CSV writer, whose room for each flag of each command was a fifth of
// the memory that a start took.)
type texts []string

func (t *texts) Set(s string) error {
	*t = append(*t, s)
	return nil
}

// Type is the name by which completion knows that the flag may be repeated.
func (t *texts) Type() string { return "stringArray" }

// String is the value as messages show it, "" for none.
func (t *texts) String() string {
	s := ""
	for i, v := range *t {
		if i > 0 {
			s += ", "
		}
		s += v
	}
	return s
}
