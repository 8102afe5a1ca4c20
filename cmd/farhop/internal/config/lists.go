package config

import (
	"errors"
	"fmt"
	"strconv"

	"gopkg.in/yaml.v3"
)

func isRangeError(err error) bool { return errors.Is(err, strconv.ErrRange) }

// settings is a key that holds a mapping of its own.
func settings[T, U any](k Key, keys table[U], at func(*T) *U) field[T] {
	k.Type = "settings"
	k.Keys = keys.keys()
	read := func(d *decoder, n *yaml.Node, path string, into *T) bool {
		return keys.read(d, n, path, at(into))
	}
	return field[T]{Key: k, read: read}
}

// entries is a key that holds a list of mappings. An entry that is not sound is
// left out when drop is set, else kept with what could be read of it. Where the
// entries that were kept stood is noted in decoder.kept.
func entries[T, U any](k Key, keys table[U], drop bool, at func(*T) *[]U) field[T] {
	k.Type = "list of settings"
	k.Keys = keys.keys()
	read := func(d *decoder, n *yaml.Node, path string, into *T) bool {
		nodes, sound := d.items(n, path, k.Type)
		list := at(into)
		for i, item := range nodes {
			var v U
			ok := keys.read(d, item, index(path, i), &v)
			sound = sound && ok
			if d.visits >= maxVisits {
				return false
			}
			if ok || !drop {
				*list = append(*list, v)
				d.kept[path] = append(d.kept[path], i)
			}
		}
		return sound
	}
	return field[T]{Key: k, read: read}
}

// list is a key that holds a list of single values. The type of k names them,
// such as "list of words". Values that are not sound are left out.
func list[T, U any](k Key, item func(d *decoder, n *yaml.Node, path string) (U, bool), at func(*T) *[]U) field[T] {
	read := func(d *decoder, n *yaml.Node, path string, into *T) bool {
		nodes, sound := d.items(n, path, k.Type)
		values := at(into)
		*values = nil
		for i, e := range nodes {
			v, ok := item(d, e, index(path, i))
			sound = sound && ok
			if d.visits >= maxVisits {
				return false
			}
			if ok {
				*values = append(*values, v)
				d.kept[path] = append(d.kept[path], i)
			}
		}
		return sound
	}
	return field[T]{Key: k, read: read}
}

// index appends the place in a list, from 0, to a path.
func index(path string, i int) string { return fmt.Sprintf("%s[%d]", path, i) }
