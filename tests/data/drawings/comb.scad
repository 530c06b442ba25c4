// A comb of five teeth with a round and a slanting elliptic hole, and an island beside it. Circles have 180 corners.
$fn = 180;
difference() {
    union() {
        square([400, 120], center = true);
        for (k = [0 : 4]) translate([-180 + 80 * k, 60]) square([40, 200]);
    }
    translate([-140, 0]) circle(r = 40);
    translate([60, 0]) rotate(30) scale([3, 1]) circle(r = 12);
}
translate([-320, 0]) circle(r = 90);
