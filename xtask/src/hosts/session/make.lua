-- A session of parts and a mix: a track for each part and Brunt on it, Brunt on the mix bus.
-- Arguments: the session's folder; then "ROLE NAME" for each part, the role as Brunt counts it.
local dir = arg[1]
AudioEngine:set_backend("None (Dummy)", "", ""):set_device_name("Silence")
assert(create_session(dir, "brunt", 48000), "no session")

-- Sets one of Brunt's parameters by its name.
local function set(insert, label, value)
  local plugin = insert:to_insert():plugin(0)
  for n = 0, plugin:parameter_count() - 1 do
    if plugin:parameter_label(n) == label then
      assert(ARDOUR.LuaAPI.set_processor_param(insert, n, value), label .. " cannot be set")
      return
    end
  end
  error("no parameter " .. label)
end

local function brunt(route)
  local insert = ARDOUR.LuaAPI.new_plugin(Session, "Brunt", ARDOUR.PluginType.VST3, "")
  assert(not insert:isnil(), "Brunt is not known")
  assert(route:add_processor_by_index(insert, 0, nil, true) == 0, "cannot be inserted")
  return route:nth_plugin(0)
end

local last = ARDOUR.PresentationInfo.max_order
for n = 2, #arg do
  local role, name = arg[n]:match("^(%d+) (.*)$")
  local track = Session:new_audio_track(
    2, 2, nil, 1, name, last, ARDOUR.TrackMode.Normal, true, false):front()
  set(brunt(track), "Role", tonumber(role))
end
local mix = Session:route_by_name("Master")
local insert = brunt(mix)
print("brunt: " .. (#arg - 1) .. " tracks and a mix")
-- For the export below: what is heard instead of the mix, the first part.
if insert:to_plugininsert():sidechain_input():isnil() then mix:add_sidechain(insert) end
local side = insert:to_plugininsert():sidechain_input()
assert(not side:isnil(), "no side-chain")
local first = Session:route_by_name(arg[2]:match("^%d+ (.*)$"))
local send = ARDOUR.LuaAPI.new_send(Session, first, first:amp())
assert(not send:isnil(), "no send")
for c = 0, 1 do
  local from, to = send:to_send():output():nth(c), side:nth(c)
  if not to:isnil() then from:connect(to:name()) end
end
-- A parameter reaches the plug-in with the next block.
ARDOUR.LuaAPI.usleep(2000000)
Session:save_state("")
print("brunt: saved")
close_session()
