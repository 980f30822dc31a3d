#version 130
// The fixation mark: a dark ring round a light dot, with edges one pixel soft.
uniform vec2 centre_px;
uniform vec2 cm_per_px;
uniform vec3 radii_cm;        // dot, inside of the ring, outside of the ring
uniform float soft_cm;
uniform vec3 ring_colour;
uniform vec3 dot_colour;
out vec4 colour;

float inside(float distance_cm, float radius_cm) {
    return clamp(0.5 + (radius_cm - distance_cm) / soft_cm, 0.0, 1.0);
}

void main() {
    float away_cm = length((gl_FragCoord.xy - centre_px) * cm_per_px);
    float dot_cover = inside(away_cm, radii_cm.x);
    float ring_cover = inside(away_cm, radii_cm.z) - inside(away_cm, radii_cm.y);
    colour = vec4(mix(ring_colour, dot_colour, dot_cover), max(dot_cover, ring_cover));
}
