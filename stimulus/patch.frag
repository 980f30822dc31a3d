#version 130
// Every frame: luminance about the mean, through the inverse of the display's transfer, dithered.
// Both the row of the table and the code are rounded by a threshold rather than to the nearest,
// so that the mean over pixels and frames is the wanted light however fine the step.
uniform sampler2D prepared;   // modulation and threshold of each pixel of the patch
uniform sampler2D codes;      // one row: code values for luminances 0 to twice the mean
uniform ivec2 corner_px;      // lower left of the patch on the window
uniform float half_steps;     // steps of the code table from black to mean grey
uniform vec2 frame;           // contrast times this frame's factor, shift of the thresholds
out vec4 colour;

void main() {
    vec2 pixel = texelFetch(prepared, ivec2(gl_FragCoord.xy) - corner_px, 0).rg;
    float bits = pixel.y * 65536.0;
    // Sixteen bits, so that a whole code plus a threshold is exact and never rounds up.
    float threshold = fract(floor(bits) / 65536.0 + frame.y);
    float row = (1.0 + frame.x * pixel.x) * half_steps;
    int drawn = int(row + fract(bits));
    colour = vec4(floor(texelFetch(codes, ivec2(drawn, 0), 0).rgb + threshold) / 255.0, 1.0);
}
