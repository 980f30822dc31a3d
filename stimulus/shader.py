"""Small GLSL programs, drawn over a polygon between the flips of a PsychoPy window.

Imported only once a window is open: the names in `pyglet.gl` need a display.
"""

from __future__ import annotations

import ctypes
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray
from pyglet import gl

from protocols.errors import RipplefieldError

HERE = Path(__file__).parent
CORNER_SLOT = 0


class ShaderError(RipplefieldError):
    """The graphics driver refused a program; the message is the driver's own."""


class Program:
    """A compiled vertex and fragment shader, by file name beside this module."""

    def __init__(self, vertex_file: str, fragment_file: str) -> None:
        self._handle = gl.glCreateProgram()
        for name, kind in (
            (vertex_file, gl.GL_VERTEX_SHADER),
            (fragment_file, gl.GL_FRAGMENT_SHADER),
        ):
            gl.glAttachShader(self._handle, _compiled(name, kind))
        gl.glBindAttribLocation(self._handle, CORNER_SLOT, _text(b"corner_px"))
        gl.glLinkProgram(self._handle)
        _refuse(self._handle, gl.GL_LINK_STATUS, gl.glGetProgramiv, gl.glGetProgramInfoLog)

    def use(self) -> None:
        """Draw with this program until `release`."""
        gl.glUseProgram(self._handle)

    def where(self, name: str) -> int:
        """Location of a uniform, for the setters of `pyglet.gl`."""
        return int(gl.glGetUniformLocation(self._handle, _text(name.encode())))

    def set_floats(self, name: str, *values: float) -> None:
        """Set a float, vec2, vec3 or vec4 uniform of the program in use."""
        setters = (gl.glUniform1f, gl.glUniform2f, gl.glUniform3f, gl.glUniform4f)
        setters[len(values) - 1](self.where(name), *(float(v) for v in values))

    def set_sampler(self, name: str, unit: int) -> None:
        """Let a sampler uniform read texture unit `unit`."""
        gl.glUniform1i(self.where(name), unit)

    def set_seed(self, name: str, value: int) -> None:
        """Set an unsigned integer uniform."""
        gl.glUniform1ui(self.where(name), value)


def release() -> None:
    """Back to no program, as PsychoPy expects between its own draws."""
    gl.glUseProgram(0)


class Polygon:
    """A convex polygon kept in graphics memory; corners in pixels from the target's lower left.

    `corners_px` has shape (n, 2).
    """

    def __init__(self, corners_px: ArrayLike) -> None:
        data = np.ascontiguousarray(corners_px, np.float32)
        self._count = len(data)
        self._buffer, self._layout = gl.GLuint(), gl.GLuint()
        gl.glGenBuffers(1, self._buffer)
        gl.glGenVertexArrays(1, self._layout)
        gl.glBindVertexArray(self._layout)
        gl.glBindBuffer(gl.GL_ARRAY_BUFFER, self._buffer)
        gl.glBufferData(gl.GL_ARRAY_BUFFER, data.nbytes, _address(data), gl.GL_STATIC_DRAW)
        gl.glEnableVertexAttribArray(CORNER_SLOT)
        gl.glVertexAttribPointer(CORNER_SLOT, 2, gl.GL_FLOAT, gl.GL_FALSE, 0, None)
        gl.glBindBuffer(gl.GL_ARRAY_BUFFER, 0)
        gl.glBindVertexArray(0)

    def draw(self) -> None:
        """Run the program in use over every pixel of the polygon."""
        gl.glBindVertexArray(self._layout)
        gl.glDrawArrays(gl.GL_TRIANGLE_FAN, 0, self._count)
        gl.glBindVertexArray(0)

    def delete(self) -> None:
        """Give the graphics memory back."""
        gl.glDeleteVertexArrays(1, self._layout)
        gl.glDeleteBuffers(1, self._buffer)


class FloatTexture:
    """A 32-bit float texture of 2 or 3 channels, read by whole texels."""

    def __init__(
        self, width: int, height: int, channels: int, values: NDArray[np.float32] | None = None
    ) -> None:
        stored, given = {2: (gl.GL_RG32F, gl.GL_RG), 3: (gl.GL_RGB32F, gl.GL_RGB)}[channels]
        data = None if values is None else _address(np.ascontiguousarray(values, np.float32))
        self.size = (width, height)
        self.handle = gl.GLuint()
        gl.glGenTextures(1, self.handle)
        gl.glBindTexture(gl.GL_TEXTURE_2D, self.handle)
        for edge in (gl.GL_TEXTURE_MIN_FILTER, gl.GL_TEXTURE_MAG_FILTER):
            gl.glTexParameteri(gl.GL_TEXTURE_2D, edge, gl.GL_NEAREST)
        gl.glTexImage2D(gl.GL_TEXTURE_2D, 0, stored, width, height, 0, given, gl.GL_FLOAT, data)
        gl.glBindTexture(gl.GL_TEXTURE_2D, 0)

    def bind(self, unit: int) -> None:
        """Put the texture on a unit and leave unit 0 active, as PsychoPy expects."""
        gl.glActiveTexture(gl.GL_TEXTURE0 + unit)
        gl.glBindTexture(gl.GL_TEXTURE_2D, self.handle)
        gl.glActiveTexture(gl.GL_TEXTURE0)

    def delete(self) -> None:
        """Give the graphics memory back."""
        gl.glDeleteTextures(1, self.handle)


@contextmanager
def drawing_into(texture: FloatTexture) -> Iterator[None]:
    """Draw into a texture, then go back to the window's own buffer, viewport and scissor."""
    frame, viewport = gl.GLuint(), (gl.GLint * 4)()
    gl.glGetIntegerv(gl.GL_VIEWPORT, viewport)
    gl.glGenFramebuffers(1, frame)
    gl.glBindFramebuffer(gl.GL_FRAMEBUFFER, frame)
    gl.glFramebufferTexture2D(
        gl.GL_FRAMEBUFFER, gl.GL_COLOR_ATTACHMENT0, gl.GL_TEXTURE_2D, texture.handle, 0
    )
    gl.glDisable(gl.GL_SCISSOR_TEST)
    gl.glViewport(0, 0, *texture.size)
    gl.glDisable(gl.GL_BLEND)
    try:
        yield
    finally:
        gl.glEnable(gl.GL_BLEND)
        gl.glBindFramebuffer(gl.GL_FRAMEBUFFER, 0)
        gl.glDeleteFramebuffers(1, frame)
        gl.glViewport(*viewport)
        gl.glEnable(gl.GL_SCISSOR_TEST)


def _compiled(file_name: str, kind: int) -> int:
    shader = int(gl.glCreateShader(kind))
    source = ctypes.create_string_buffer((HERE / file_name).read_bytes())
    pointer = ctypes.cast(ctypes.pointer(ctypes.pointer(source)), ctypes.POINTER(_CHARS))
    gl.glShaderSource(shader, 1, pointer, None)
    gl.glCompileShader(shader)
    _refuse(shader, gl.GL_COMPILE_STATUS, gl.glGetShaderiv, gl.glGetShaderInfoLog)
    return shader


_CHARS = ctypes.POINTER(ctypes.c_char)


def _refuse(handle: int, status: int, query: Any, log: Any) -> None:
    done = gl.GLint()
    query(handle, status, done)
    if done.value:
        return
    words = ctypes.create_string_buffer(4096)
    log(handle, len(words), None, words)
    raise ShaderError(words.value.decode(errors="replace").strip())


def _text(name: bytes) -> Any:
    return ctypes.create_string_buffer(name)


def _address(data: NDArray[np.float32]) -> Any:
    return data.ctypes.data_as(ctypes.c_void_p)
