#version 130
// Corners come in pixels from the lower left of the target.
in vec2 corner_px;
uniform vec2 target_px;

void main() {
    gl_Position = vec4(2.0 * corner_px / target_px - 1.0, 0.0, 1.0);
}
