package house

import (
	"go/ast"
	"go/token"
	"go/types"
	"path"
	"regexp"
	"slices"
)

// knowledge says what the names in the files of one package stand for. It is
// found without looking into other packages: their names stay unknown, which is
// no hindrance here, and the rules need no compiler and see files of every
// platform.
type knowledge struct {
	own  *types.Package
	info types.Info
}

func know(files []source) knowledge {
	k := knowledge{info: types.Info{Uses: map[*ast.Ident]types.Object{}, Selections: map[*ast.SelectorExpr]*types.Selection{}}}
	all := make([]*ast.File, len(files))
	for i, s := range files {
		all[i] = s.file
	}
	lenient := types.Config{Importer: strangers{}, Error: func(error) {}}
	k.own, _ = lenient.Check(files[0].folder, positions, all, &k.info) // errors: the strangers' names
	return k
}

// strangers imports every package as an empty one.
type strangers struct{}

var majorVersion = regexp.MustCompile(`^v[0-9]+$`)

func (strangers) Import(name string) (*types.Package, error) {
	base := path.Base(name)
	if majorVersion.MatchString(base) {
		base = path.Base(path.Dir(name))
	}
	p := types.NewPackage(name, base)
	p.MarkComplete()
	return p, nil
}

// imported returns the package and the name of a selector like time.Now, under
// whatever name the package was imported.
func (k knowledge) imported(n ast.Node) (from, name string) {
	selector, ok := n.(*ast.SelectorExpr)
	if !ok {
		return "", ""
	}
	x, ok := selector.X.(*ast.Ident)
	if !ok {
		return "", ""
	}
	if p, ok := k.info.Uses[x].(*types.PkgName); ok {
		return p.Imported().Path(), selector.Sel.Name
	}
	return "", ""
}

// changed names the package variables that a statement or expression changes, or
// lets others change.
func (k knowledge) changed(n ast.Node) []string {
	var targets []ast.Expr
	switch n := n.(type) {
	case *ast.AssignStmt:
		targets = n.Lhs
	case *ast.IncDecStmt:
		targets = []ast.Expr{n.X}
	case *ast.RangeStmt:
		targets = []ast.Expr{n.Key, n.Value}
	case *ast.UnaryExpr:
		if n.Op == token.AND {
			targets = []ast.Expr{n.X}
		}
	case *ast.CallExpr:
		if f, ok := n.Fun.(*ast.Ident); ok && slices.Contains([]string{"delete", "clear", "copy"}, f.Name) {
			targets = n.Args[:1]
		}
	case *ast.SelectorExpr:
		if s := k.info.Selections[n]; s != nil && s.Kind() == types.MethodVal && byPointer(s.Obj()) {
			targets = []ast.Expr{n.X}
		}
	}
	var names []string
	for _, target := range targets {
		if v := k.variable(target); v != "" {
			names = append(names, v)
		}
	}
	return names
}

// byPointer reports whether a method can change its receiver.
func byPointer(method types.Object) bool {
	f, ok := method.(*types.Func)
	if !ok || f.Signature().Recv() == nil {
		return false
	}
	_, pointer := f.Signature().Recv().Type().(*types.Pointer)
	return pointer
}

// variable returns the package variable at the root of x.y[z], or nothing.
func (k knowledge) variable(x ast.Expr) string {
	for {
		switch e := x.(type) {
		case *ast.ParenExpr:
			x = e.X
		case *ast.StarExpr:
			x = e.X
		case *ast.SelectorExpr:
			x = e.X
		case *ast.IndexExpr:
			x = e.X
		case *ast.SliceExpr:
			x = e.X
		case *ast.Ident:
			if v, ok := k.info.Uses[e].(*types.Var); ok && v.Parent() == k.own.Scope() {
				return v.Name()
			}
			return ""
		default:
			return ""
		}
	}
}
