package parts

import (
	"fmt"
	"math"

	"inkchannel/geom"
)

// The stand's measures, mm; common practice, no source.
const (
	standWall  = 2.4 // six extrusion widths of 0.4
	standSeat  = 2.0 // the lid rests on this much all round
	lidThick   = 2.4
	postRadius = 4.0
	standRound = 3.0 // corners
	// lidScrew is the nominal diameter of the lid's screws; they cut into
	// core holes of the tapping drill's size, diameter less pitch (0.5 for
	// M3, ISO 262 and ISO 724).
	lidScrew, lidPitch = 3.0, 0.5
	// widestStand bounds the search for a stand that does not tip.
	widestStand = 400.0
)

// A Balance is how safely the sign stands.
type Balance struct {
	Mass   float64     // g, of all printed parts as if filled
	Centre geom.Vertex // of mass, in the sign's frame; y above the ground
	Base   geom.Rect   // the stand's footprint: X across, Y towards the viewer
	Tilt   float64     // degrees, the least tilt at which it tips
	Grown  float64     // mm that the stand was enlarged by for it, the wider way
}

// addStand makes the stand and its lid, as large as they must be so that the
// sign does not tip.
func (b *builder) addStand() error {
	s := b.s
	bottom := b.shoulders()
	tall := b.standHeight()
	room := b.pocket()
	tenonX0, tenonX1 := b.tenonSpan()
	midX, midZ := (tenonX0+tenonX1)/2, b.tenonThick()/2
	sign, mass := b.weigh()
	// Sides of the footprint, measured from the tenon's middle.
	needX := max(room.X/2, (tenonX1-tenonX0)/2+s.Clearance) + standSeat + standWall
	needZ := max(room.Y/2, b.tenonThick()/2+s.Clearance) + standSeat + standWall
	side := [4]float64{needX, needX, needZ, needZ} // left, right, rear, front
	for {
		stand := b.standSolid(side, room, tall)
		whole, centre := addMass(mass, sign, stand.Volume()*s.Density/1000, geom.Vertex{X: midX, Y: bottom - tall/2, Z: midZ + (side[3]-side[2])/2})
		h := centre.Y - (bottom - tall)
		gaps := [4]float64{centre.X - (midX - side[0]), midX + side[1] - centre.X, centre.Z - (midZ - side[2]), midZ + side[3] - centre.Z}
		tilt, worst := 90.0, 0
		for k, g := range gaps {
			if t := geom.Degrees(math.Atan2(g, h)); t < tilt {
				tilt, worst = t, k
			}
		}
		if tilt >= s.Tilt {
			base := geom.Rect{Min: geom.Pt(midX-side[0], midZ-side[2]), Max: geom.Pt(midX+side[1], midZ+side[3])}
			b.sign.Balance = &Balance{Mass: whole, Centre: geom.Vertex{X: centre.X, Y: h, Z: centre.Z}, Base: base, Tilt: tilt,
				Grown: max(side[0]-needX, side[1]-needX, side[2]-needZ, side[3]-needZ)}
			b.placeStand(stand, side, room, tall, geom.Vertex{X: midX, Y: bottom - tall, Z: midZ})
			return nil
		}
		side[worst]++
		if side[0]+side[1] > widestStand || side[2]+side[3] > widestStand {
			return fmt.Errorf("no stand up to %g mm wide keeps the sign from tipping at %g degrees; its middle is %.0f mm beside the foot and %.0f mm above the ground", widestStand, s.Tilt, centre.X-midX, h)
		}
	}
}

// shoulders is the height of the foot's shoulders, on the stand's top.
func (b *builder) shoulders() float64 { return b.sign.Bore.From.Y + b.s.Tenon }

func (b *builder) tenonSpan() (x0, x1 float64) {
	low := geom.Pt(b.sign.Bore.Top.X, b.sign.Bore.Top.Y)
	x0, x1 = b.footSpan(low)
	return x0 + footSide, x1 - footSide
}

// pocket is the room for the controller between the lid's posts.
func (b *builder) pocket() Size {
	c := b.s.Controller
	return Size{c.X + 2*b.s.Clearance + 4*postRadius, c.Y + 2*b.s.Clearance, max(c.Z, b.s.Connector.Z) + 2}
}

func (b *builder) standHeight() float64 { return b.s.Tenon + b.pocket().Z + lidThick }

// posts are the middles of the four posts that the lid is screwed to.
func posts(room Size) []geom.Point {
	x, y := room.X/2-postRadius, room.Y/2-postRadius
	return []geom.Point{geom.Pt(-x, -y), geom.Pt(x, -y), geom.Pt(x, y), geom.Pt(-x, y)}
}

// standSolid is the stand as it is printed: top down, about the tenon's middle,
// y towards the viewer.
func (b *builder) standSolid(side [4]float64, room Size, tall float64) geom.Solid {
	s := b.s
	out := geom.RoundBox(-side[0], -side[2], side[1], side[3], standRound)
	x0, x1 := b.tenonSpan()
	half, deep := (x1-x0)/2+s.Clearance, b.tenonThick()/2+s.Clearance
	mortise := geom.Box(-half, -deep, half, deep)
	pocket := geom.Box(-room.X/2, -room.Y/2, room.X/2, room.Y/2)
	seat := pocket.GrowSquare(standSeat)
	var postPlan, cores geom.Plan
	for _, p := range posts(room) {
		postPlan = postPlan.Or(geom.Disc(p, postRadius).Or(corner(p, room)))
		cores = cores.Or(geom.Disc(p, (lidScrew-lidPitch)/2))
	}
	solid := geom.Solid{{Z0: 0, Z1: tall, Plan: out}}
	solid = solid.Cut(0, s.Tenon, mortise)
	// The tenon's end must stay free even where a post would cross it.
	solid = solid.Cut(s.Tenon, tall-lidThick, pocket.Less(postPlan.Less(mortise)).Or(cores.Less(mortise)))
	solid = solid.Cut(tall-lidThick, tall, seat)
	// The cable's way out through the rear wall, open at the bottom.
	exit := geom.Box(-s.Connector.X/2, -side[2]-1, s.Connector.X/2, -room.Y/2+1)
	return solid.Cut(tall-lidThick-s.Connector.Z, tall, exit)
}

// corner fills from a post to the pocket's corner, so that the post is part of
// the walls.
func corner(p geom.Point, room Size) geom.Plan {
	return geom.Box(p.X, p.Y, math.Copysign(room.X/2+0.5, p.X), math.Copysign(room.Y/2+0.5, p.Y))
}

// placeStand adds the stand and its lid. at is the middle of the tenon at the
// stand's bottom.
func (b *builder) placeStand(stand geom.Solid, side [4]float64, room Size, tall float64, at geom.Vertex) {
	s := b.s
	// Printed top down: turned over about x, then stood up.
	b.add(Part{Name: "stand", Colour: "#3A3F46", Solid: stand, Pose: Pose{Flip: true, Stand: true, Move: geom.Vertex{X: at.X, Y: at.Y + tall, Z: at.Z}}})
	fit := standSeat - s.Clearance
	lid := geom.Box(-room.X/2-fit, -room.Y/2-fit, room.X/2+fit, room.Y/2+fit)
	for _, p := range posts(room) {
		lid = lid.Less(geom.Disc(p, ClearanceHole(lidScrew)/2))
	}
	b.add(Part{Name: "lid", Colour: "#3A3F46", Solid: geom.Solid{{Z0: 0, Z1: lidThick, Plan: lid}}, Pose: Pose{Stand: true, Move: at}})
	if b.sign.Balance.Grown > 0 {
		b.note("the stand was made up to %.0f mm wider so that the sign tips only beyond %g degrees", b.sign.Balance.Grown, s.Tilt)
	}
}

// weigh returns the centre and mass (g) of what is on the stand, as if filled.
func (b *builder) weigh() (geom.Vertex, float64) {
	var c geom.Vertex
	mass := 0.0
	for _, p := range b.sign.Parts {
		mass, c = addMass(mass, c, p.Solid.Volume()*b.s.Density/1000, p.Pose.Apply(p.Solid.Centre()))
	}
	return c, mass
}

// addMass is the mass and centre of two masses together.
func addMass(m float64, c geom.Vertex, n float64, d geom.Vertex) (float64, geom.Vertex) {
	if m+n == 0 {
		return 0, c
	}
	k, l := m/(m+n), n/(m+n)
	return m + n, geom.Vertex{X: k*c.X + l*d.X, Y: k*c.Y + l*d.Y, Z: k*c.Z + l*d.Z}
}
