#version 130
// Once a presentation: envelope times carrier at each pixel's true visual angle, and the
// pixel's first dither threshold. The formulas are those of protocols/grating.py.
uniform vec2 origin_cm;     // from the fixation mark to the target's lower left
uniform vec2 cm_per_px;
uniform float distance_cm;
uniform vec3 across_axis;
uniform vec3 up_axis;
uniform vec3 ahead_axis;
uniform vec2 radii;         // full and outer, radians
uniform vec2 cycles;        // across the bars, cycles per radian along (across, up)
uniform float phase;        // radians
uniform uint seed;
out vec2 prepared;          // modulation -1..1, threshold 0..1

const float PI = 3.14159265358979;

// A bijective mix of 32 bits by xor-shifts and odd multipliers.
uint mixed(uint x) {
    x ^= x >> 16; x *= 0x7feb352du;
    x ^= x >> 15; x *= 0x846ca68bu;
    return x ^ (x >> 16);
}

// Sixteen bits for the code, eight more, independent of them, for the row of the code table.
float threshold(uvec2 pixel) {
    return float(mixed(pixel.x + mixed(pixel.y + mixed(seed))) >> 8) / 16777216.0;
}

float envelope(float radius) {
    float t = clamp((radius - radii.x) / (radii.y - radii.x), 0.0, 1.0);
    return t < 1.0 ? 0.5 * (1.0 + cos(PI * t)) : 0.0;
}

void main() {
    vec3 ray = vec3(origin_cm + gl_FragCoord.xy * cm_per_px, distance_cm);
    vec2 local = vec2(dot(ray, across_axis), dot(ray, up_axis));
    float off_axis = length(local);
    float radius = atan(off_axis, dot(ray, ahead_axis));
    vec2 angles = off_axis > 0.0 ? local * (radius / off_axis) : vec2(0.0);
    float carrier = sin(2.0 * PI * dot(cycles, angles) + phase);
    prepared = vec2(envelope(radius) * carrier, threshold(uvec2(gl_FragCoord.xy)));
}
